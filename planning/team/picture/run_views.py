"""A robot is calibrated by pictures: its team's page, and the coach's. They measure and change nothing."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from classroom.access import as_key, get_robot, require_coach, require_team
from classroom.club.marks.coming_in import check_switched_on, picture_of, takes_picture, wants_json
from classroom.errors import HelmroomError
from classroom.models import Robot
from classroom.robots.kinds import KINDS
from classroom.robots.kinds.kind import CalibrationKind
from classroom.robots.robot_at import robot_at
from missions.access import current_tier_version, get_tier
from missions.ladder.pages.tablet_tiers import chosen_tier
from missions.models import TierVersion
from planning.team.picture.measured_run import asked_column, see_run


def _kind(key: str) -> CalibrationKind[Any]:
    kind = KINDS.get(key)
    if kind is None or kind.by_picture is None:
        raise Http404
    return kind


def _wants_part(request: HttpRequest) -> bool:
    return request.headers.get("X-Part") == "yes"


@takes_picture
@require_http_methods(["GET", "POST"])
def team_run_picture(request: HttpRequest, kind: str) -> HttpResponse:
    """GET: the page. POST: one picture; ``before`` is what the first one's answer carried, ``told`` what was typed."""
    seat = require_team(request)
    check_switched_on(seat.club)
    of = _kind(kind)
    robot = robot_at(seat.team, timezone.now())
    tier = chosen_tier(seat, request.POST.get("tier") or request.GET.get("tier"))
    edition = current_tier_version(tier) if tier else None
    if robot is None or edition is None:
        return render(request, "planning/team/no_course_page.html", {"tab": "team_robot", "tier": None, "robot": robot})
    page: dict[str, Any] = {"tab": "team_robot", "tier": tier, "back": reverse("team_calibrate", args=[kind])}
    answer = _answer(request, robot, of, edition, page)
    template = (
        "planning/team/picture/run_part.html" if _wants_part(request) else "planning/team/picture/tablet_run_page.html"
    )
    return answer or render(request, template, page, status=page["status"])


@takes_picture
@require_http_methods(["GET", "POST"])
def robot_run_picture(request: HttpRequest, pk: int, kind: str) -> HttpResponse:
    """As :func:`team_run_picture`, for the coach, who says on which mission's table the robot stands."""
    coach = require_coach(request, to_change=True)
    check_switched_on(coach.club)
    robot, of = get_robot(coach, pk), _kind(kind)
    tables: dict[int, TierVersion] = {}
    for each in TierVersion.objects.in_force().filter(tier__mission__club=coach.club, tier__mission__archived_at=None):
        tables.setdefault(each.version.mission_id, each)
    asked = request.POST.get("tier") or request.GET.get("tier")
    edition = current_tier_version(get_tier(coach, as_key(asked))) if asked else next(iter(tables.values()), None)
    page: dict[str, Any] = {"section": "robots", "back": reverse("calibrate", args=[pk, kind])}
    page["tables"] = [(each.tier_id, each.version.title) for each in tables.values()]
    answer = _answer(request, robot, of, edition, page)
    template = (
        "planning/team/picture/run_part.html" if _wants_part(request) else "planning/team/picture/robot_run_page.html"
    )
    return answer or render(request, template, page, status=page["status"])


def _answer(
    request: HttpRequest,
    robot: Robot,
    kind: CalibrationKind[Any],
    edition: TierVersion | None,
    page: dict[str, Any],
) -> HttpResponse | None:
    """What a script gets; else ``page`` is filled for its template."""
    by = kind.by_picture
    assert by is not None
    before, told = request.POST.get("before", ""), request.POST.get("told", "")[:40]
    page |= {"robot": robot, "kind": kind, "by": by, "asks": asked_column(kind, by), "edition": edition, "status": 200}
    page |= {"before": before, "told": told}
    if request.method == "POST" and edition is not None:
        try:
            said = see_run(robot, edition.version, kind, picture_of(request), before=before, told=told)
            if wants_json(request):
                answer = {"before": said.before, "fields": said.fields, "shared": said.shared, "words": said.words}
                return JsonResponse(answer)
            page |= {"said": said, "before": said.before if by.once or not said.words else ""}
        except HelmroomError as error:
            if wants_json(request):
                raise
            page |= {"error": error.message, "status": error.status}
    return None
