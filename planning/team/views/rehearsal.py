"""What the script that plays a course on the map asks for: of a kept plan, and of a draft that is not kept yet."""

from __future__ import annotations

from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from classroom import access
from classroom.robots.robot_at import robot_at
from missions.access import current_tier_version
from missions.ladder.pages.tablet_tiers import chosen_tier
from planning.access import get_own_course
from planning.courses.pages.rehearsal import plan_rehearsal, rehearsal_answer
from planning.courses.plan_today import plan_today
from planning.team.draft import read_draft
from planning.team.pages.rehearsal import draft_rehearsal


@require_safe
def team_rehearsal(request: HttpRequest, pk: int) -> JsonResponse:
    """Of one kept plan."""
    seat = access.require_team(request)
    found = get_own_course(seat, pk)
    return rehearsal_answer(lambda: plan_rehearsal(plan_today(found)))


@require_POST
def team_draft_rehearsal(request: HttpRequest) -> JsonResponse:
    """Of the draft that is sent, as it stands on the tablet."""
    seat = access.require_team(request)
    tier, robot = chosen_tier(seat, request.POST.get("tier")), robot_at(seat.team, timezone.now())
    edition = current_tier_version(tier) if tier else None
    if robot is None or edition is None:
        return JsonResponse({"wrong": _("There is no robot or no open mission to rehearse with.")}, status=422)
    return rehearsal_answer(lambda: draft_rehearsal(seat, edition, robot, read_draft(request.POST, robot, edition)))
