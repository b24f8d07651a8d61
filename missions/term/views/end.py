"""The page on which a lead coach ends a term: what happens is said before it does."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from classroom.access import as_key, require_coach
from classroom.errors import HelmroomError
from classroom.families.slips import members_now
from missions.term.forms import TermForm
from missions.term.services.end_term import archive_taken_at, end_term, teams_going_on, teams_mark


@require_http_methods(["GET", "HEAD", "POST"])
def term_end(request: HttpRequest) -> HttpResponse:
    """``team``: the number of each team that goes on."""
    lead = require_coach(request, to_lead=True)
    now = timezone.now()
    form = TermForm(request.POST if request.method == "POST" else None)
    carried = {as_key(text) for text in request.POST.getlist("team")}
    if request.method == "POST" and form.is_valid():
        try:
            ended = end_term(lead, carried, **form.cleaned_data, seen=request.POST.get("seen", ""), now=now)
        except HelmroomError as error:
            form.add_error(None, error.message)
        else:
            messages.success(
                request,
                _(
                    "The new term has begun. Teams that go on: %(teams)s. Print their sign-in cards: codes and PINs "
                    "are new."
                )
                % {"teams": len(ended.teams)},
            )
            return redirect("term_of", ended.term.pk)
    teams = teams_going_on(lead.club)
    context = {
        "section": "today",
        "form": form,
        "teams": [(team, request.method != "POST" or team.pk in carried) for team in teams],
        "children": members_now(lead.club).count(),
        "taken_at": archive_taken_at(lead.club, now),
        "seen": teams_mark(lead.club),
        "club": lead.club,
    }
    return render(request, "missions/term/term_end_page.html", context, status=422 if form.errors else 200)
