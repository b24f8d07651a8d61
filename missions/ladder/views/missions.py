"""The coach's missions: the list, and one mission in full."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from classroom.access import require_coach
from missions.access import get_mission
from missions.ladder.pages.missions import list_missions, read_mission_page


@require_safe
def missions(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request)
    lines, put_away = list_missions(coach.club)
    return render(
        request, "missions/ladder/missions_page.html", {"lines": lines, "put_away": put_away, "section": "missions"}
    )


@require_safe
def mission(request: HttpRequest, mission_id: int) -> HttpResponse:
    coach = require_coach(request)
    found = get_mission(coach, mission_id)
    asked = request.GET.get("tier", "")
    page = read_mission_page(
        coach.club, found, timezone.now(), int(asked) if asked.isdecimal() and len(asked) < 18 else None
    )
    if page is None:
        return redirect("missions")
    return render(
        request, "missions/ladder/mission_page.html", {"page": page, "board": page.board, "section": "missions"}
    )
