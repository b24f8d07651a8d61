"""Readiness: the coach's first page, its projector view, and what the board said on an earlier date."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from classroom.access import coach_or_none, current_club, require_coach, team_or_none
from classroom.models import Club
from classroom.site.live import answer_live, live_tag
from missions.readiness.forms.decisions import DayForm
from missions.readiness.pages.board import SHOW, read_board
from missions.readiness.pages.first_steps import first_steps
from missions.readiness.pages.history import read_board_on


@require_safe
def board(request: HttpRequest) -> HttpResponse:
    """The first address of the site: the coach's board, or whichever door is the asker's."""
    if coach_or_none(request) is not None:
        return _answer(request, None, "missions/readiness/board_page.html")
    if team_or_none(request):
        return redirect("team_mission")
    if current_club(request):
        return redirect("family")
    return render(request, "missions/readiness/front_page.html")


@require_safe
def board_mission(request: HttpRequest, mission_id: int) -> HttpResponse:
    return _answer(request, mission_id, "missions/readiness/board_page.html")


@require_safe
def projector(request: HttpRequest, mission_id: int) -> HttpResponse:
    """For the wall: table order, no child's name, nothing to press."""
    return _answer(request, mission_id, "missions/readiness/projector_page.html")


def _answer(request: HttpRequest, mission_id: int | None, template: str) -> HttpResponse:
    coach = require_coach(request)
    asked = {"show": request.GET.get("show", "all"), "on": request.GET.get("on", "")}
    tag = live_tag(coach.club, template, mission_id, coach.role, timezone.localdate(), *asked.values())
    return answer_live(request, template, tag, lambda: _context(coach.club, mission_id, asked))


def _context(club: Club, mission_id: int | None, asked: dict[str, str]) -> dict[str, Any]:
    now = timezone.now()
    day = DayForm({"on": asked["on"]} if asked["on"] else None, today=timezone.localdate(now))
    if day.is_valid():
        seen = read_board_on(club, day.cleaned_data["on"], now, mission_id)
    else:
        seen = read_board(club, now, mission_id, asked["show"] if asked["show"] in SHOW else "all")
    if seen is None:
        raise Http404
    steps = first_steps(club) if seen.mission is None else []
    return {"board": seen, "day": day, "section": "board", "steps": steps}
