"""After a session, and the next one's proposal taken over."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from classroom.access import as_key, get_session, require_coach
from classroom.errors import HelmroomError
from missions.term.pages.after import after_page, proposal_after
from missions.term.services.take_over import take_over


@require_safe
def session_after(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request)
    session = get_session(coach, pk)
    session.term.club = coach.club
    page = {"section": "today", **after_page(session, timezone.now())}
    return render(request, "missions/term/after_page.html", page)


@require_POST
def session_take_over(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    session = get_session(coach, pk)
    session.term.club = coach.club
    now = timezone.now()
    chosen = {name: {as_key(key) for key in request.POST.getlist(name)} for name in ("missions", "opens", "with_coach")}
    try:
        done = take_over(proposal_after(session, now), coach, **chosen, now=now)
    except HelmroomError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, done.words)
    return redirect("session_after", pk)
