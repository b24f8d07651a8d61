"""Readiness: the coach's first page, its projector view, and what the board said on an earlier date."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from classroom.access import as_key, coach_or_none, current_club, require_coach, team_or_none
from classroom.models import Club
from classroom.site.htmx_request import HtmxHttpRequest
from classroom.site.live import answer_live, live_tag
from missions.readiness.forms.decisions import DayForm
from missions.readiness.pages.board import SHOW, Fold, read_board
from missions.readiness.pages.first_steps import clock_to_choose, first_steps
from missions.readiness.pages.history import read_board_on


@require_safe
def board(request: HtmxHttpRequest) -> HttpResponse:
    """The first address of the site: the coach's board, or whichever door is the asker's."""
    if coach_or_none(request) is not None:
        return _board(request, None)
    if team_or_none(request):
        return redirect("team_mission")
    if current_club(request):
        return redirect("family")
    return render(request, "missions/readiness/front_page.html")


@require_safe
def board_mission(request: HtmxHttpRequest, mission_id: int) -> HttpResponse:
    return _board(request, mission_id)


@require_safe
def projector(request: HtmxHttpRequest, mission_id: int) -> HttpResponse:
    """For the wall: table order, no child's name, nothing to press."""
    template = "missions/readiness/projector_part.html" if request.htmx else "missions/readiness/projector_page.html"
    return answer_live(request, template, *_asked(request, mission_id, "projector"))


def _board(request: HtmxHttpRequest, mission_id: int | None) -> HttpResponse:
    template = "missions/readiness/board_part.html" if request.htmx else "missions/readiness/board_page.html"
    return answer_live(request, template, *_asked(request, mission_id, "board"))


def _asked(request: HtmxHttpRequest, mission_id: int | None, view: str) -> tuple[str, Callable[[], dict[str, Any]]]:
    """The tag of what is asked for, and how it is read when it is needed."""
    coach = require_coach(request)
    asked = {"show": request.GET.get("show", "all"), "on": request.GET.get("on", "")}
    opened = request.GET.get("open")
    tag = live_tag(coach.club, view, mission_id, coach.role, timezone.localdate(), *asked.values(), opened)
    fold = _fold(opened) if view == "board" else None
    return tag, lambda: _context(coach.club, mission_id, asked, fold)


def _fold(opened: str | None) -> Fold:
    """``open`` lists the teams whose rows are open; an empty one closes all."""
    return Fold(None if opened is None else frozenset(as_key(key) for key in opened.split(",")) - {0})


def _context(club: Club, mission_id: int | None, asked: dict[str, str], fold: Fold | None) -> dict[str, Any]:
    now = timezone.now()
    day = DayForm({"on": asked["on"]} if asked["on"] else None, today=timezone.localdate(now))
    before = day.is_valid() and day.cleaned_data["on"] < timezone.localdate(club.created_at)
    if day.is_valid():
        seen = read_board_on(club, day.cleaned_data["on"], now, mission_id)
    else:
        seen = read_board(club, now, mission_id, asked["show"] if asked["show"] in SHOW else "all", fold)
    if seen is None:
        raise Http404
    steps = first_steps(club) if seen.mission is None else []
    zones = clock_to_choose(club) if seen.mission is None else []
    return {"board": seen, "day": day, "section": "board", "steps": steps, "zones": zones, "before_club": before}
