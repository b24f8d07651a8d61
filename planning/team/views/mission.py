"""Our mission: what there is to do, and what the next tier needs."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from classroom import access
from missions.ladder.pages.tablet_tiers import chosen_tier, left_out
from planning.team.pages.mission import mission_page


@require_safe
def team_mission(request: HttpRequest) -> HttpResponse:
    seat = access.require_team(request)
    tier = chosen_tier(seat, request.GET.get("tier"))
    if tier is None:
        return render(
            request, "planning/team/nothing_open_page.html", {"tab": "team_mission", "left_out": left_out(seat)}
        )
    return render(request, "planning/team/mission_page.html", mission_page(seat, tier, timezone.now()))
