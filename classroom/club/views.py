"""The club's settings, the coach's own account and clubs, and the log."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom.access import CLUB_KEY, get_own_role, require_coach
from classroom.club.audit_words import actor_names, sentence_of, who_did
from classroom.club.forms import ClubForm, OwnLanguageForm
from classroom.club.services.save_club import club_mark, save_club, set_club_clock
from classroom.errors import HelmroomError
from classroom.models import AuditEntry, Club, Coach
from classroom.people.services.own_language import choose_own_language
from classroom.site.clash.views import clash_or_raise, seen_by
from classroom.site.isolated import isolated
from classroom.site.languages import NAMES, language_of_coach


def club_settings(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request, to_lead=request.method == "POST")
    club = coach.club
    form = ClubForm(request.POST or None, instance=club)
    seen = seen_by(request) if request.method == "POST" else club_mark(club)
    clash = None
    if request.method == "POST" and form.is_valid():
        try:
            save_club(club, coach, form.cleaned_data, seen=seen, now=timezone.now())
        except HelmroomError as error:
            clash = clash_or_raise(error, form, lambda: _club_now(club.pk))
        else:
            messages.success(request, _("The club's settings are saved."))
            return redirect("club_settings")
    if form.is_bound:
        club.refresh_from_db()
    roles = Coach.objects.select_related("club").filter(user=coach.user, left_at=None).order_by("club__name")
    context = {"section": "club_settings", "form": form, "roles": roles, "lead": coach.role == "lead"}
    context |= {"seen": seen, "clash": clash}
    context["language_form"] = OwnLanguageForm(club=club, initial={"language": coach.user.language})
    return render(request, "classroom/club/settings_page.html", context, status=409 if clash else 200)


@require_POST
def club_clock(request: HttpRequest) -> HttpResponse:
    """``time_zone``: the city of the first steps."""
    coach = require_coach(request, to_lead=True)
    try:
        set_club_clock(coach.club, coach, request.POST.get("time_zone", ""), now=timezone.now())
    except HelmroomError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, _("The club goes by that clock now."))
    return redirect("board")


def _club_now(pk: int) -> tuple[ClubForm, str]:
    fresh = Club.objects.get(pk=pk)
    return ClubForm(instance=fresh), club_mark(fresh)


@require_POST
def own_language(request: HttpRequest) -> HttpResponse:
    """Observers too: it changes nothing of the club's."""
    coach = require_coach(request)
    form = OwnLanguageForm(request.POST, club=coach.club)
    if form.is_valid():
        choose_own_language(coach.user, form.cleaned_data["language"])
        with translation.override(language_of_coach(coach)):
            messages.success(
                request, _("Your pages speak %(language)s now.") % {"language": NAMES[language_of_coach(coach)]}
            )
    else:
        messages.error(request, _("That language is not in the list. Choose one of the list."))
    return redirect("club_settings")


@require_POST
def club_switch(request: HttpRequest, pk: int) -> HttpResponse:
    """Work in another of one's own clubs."""
    coach = require_coach(request)
    role = get_own_role(coach, pk)
    request.session[CLUB_KEY] = role.club_id
    messages.success(request, _("You are working in %(name)s now.") % {"name": isolated(role.club.name)})
    return redirect("/")


def audit_log(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request, to_lead=True)
    page = Paginator(AuditEntry.objects.filter(club=coach.club), 100).get_page(request.GET.get("page"))
    names = actor_names(coach.club, page.object_list)
    lines = [(entry, sentence_of(entry, names), who_did(entry, names)) for entry in page.object_list]
    context = {"section": "club_settings", "page": page, "lines": lines}
    return render(request, "classroom/club/log_page.html", context)
