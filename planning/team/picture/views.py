"""One picture of a table: the check of how it is laid, and where a robot stopped. Pictures pass through, none is kept."""

from __future__ import annotations

import json
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from classroom import access
from classroom.access import require_coach, require_team
from classroom.club.marks.coming_in import check_switched_on, picture_of, takes_picture, wants_json
from classroom.errors import HelmroomError, InputError
from classroom.models import Club, Coach, Team
from classroom.robots.robot_at import robot_at
from classroom.site.isolated import isolated
from missions.access import chosen_team, current_tier_version, get_tier
from missions.ladder.pages.tablet_tiers import chosen_tier
from missions.models import TierVersion
from planning.courses.scene_for import scene_for
from planning.errors import PlanningCode
from planning.team.measured import SolvedSurvey, fix_of, kept_lines, survey_in_force
from planning.team.picture.carried import read_fit
from planning.team.picture.measure import see_own_robot, see_table
from planning.team.picture.pages import (
    places_answer,
    places_page,
    seen_answer,
    sure_words,
    table_for_script,
)
from planning.team.picture.standing import places_of, read_taps
from planning.team.picture.stopped import MOMENTS, stopped_at_home, stopped_at_target
from planning.team.services.keep_survey import keep_survey


@takes_picture
@require_http_methods(["GET", "POST"])
def team_picture(request: HttpRequest) -> HttpResponse:
    """GET: the page. POST: ``do`` is measure (a picture), places (tapped corners) or keep (as the table's survey)."""
    seat = require_team(request)
    check_switched_on(seat.club)
    tier = chosen_tier(seat, request.POST.get("tier") or request.GET.get("tier"))
    edition = current_tier_version(tier) if tier else None
    if tier is None or edition is None:
        nothing = {"tab": "team_course", "tier": None, "robot": robot_at(seat.team, timezone.now())}
        return render(request, "planning/team/no_course_page.html", nothing)
    page: dict[str, Any] = {"tab": "team_course", "tier": tier, "back": f"/team/survey/?tier={tier.pk}"}
    answer = _answer(request, seat.club, edition, page, team=seat.team)
    return answer or render(request, "planning/team/picture/tablet_picture_page.html", page, status=page["status"])


@takes_picture
@require_http_methods(["GET", "POST"])
def tier_picture(request: HttpRequest, pk: int) -> HttpResponse:
    """As :func:`team_picture`, for the coach; kept for the team that the form names. Measuring alone changes nothing."""
    coach = require_coach(request, to_change=request.POST.get("do") == "keep")
    check_switched_on(coach.club)
    edition = current_tier_version(get_tier(coach, pk))
    if edition is None:
        raise InputError(PlanningCode.NOT_PUBLISHED, _("This tier is not published yet. Publish its mission first."))
    page: dict[str, Any] = {
        "section": "missions",
        "tier": edition.tier,
        "back": f"/missions/{edition.tier.mission_id}/",
    }
    page["teams"] = Team.objects.filter(club=coach.club, archived_at=None) if coach.may_change else []
    team = chosen_team(coach, request.POST.get("team", ""))
    answer = _answer(request, coach.club, edition, page, team=team, coach=coach)
    return answer or render(request, "planning/team/picture/tier_picture_page.html", page, status=page["status"])


def _answer(
    request: HttpRequest,
    club: Club,
    edition: TierVersion,
    page: dict[str, Any],
    *,
    team: Team | None,
    coach: Coach | None = None,
) -> HttpResponse | None:
    """What a script gets, or where a form leads; else ``page`` is filled for its template."""
    page |= {"edition": edition, "table": json.dumps(table_for_script(edition)), "status": 200}
    if request.method != "POST":
        return None
    do = request.POST.get("do", "measure")
    try:
        if do == "measure":
            seen = see_table(club, edition.version, picture_of(request))
            page["seen"] = sure_words(seen, club.unit)
            return JsonResponse(seen_answer(club, edition, seen)) if wants_json(request) else None
        fit = read_fit(request.POST.get("fit", ""), club.pk, edition)
        places = places_of(fit.table, read_taps(request.POST, edition, fit.table.size_px))
        fix, tape = None, 0
        if team is not None:
            lines = kept_lines(survey_in_force(team, edition), club.unit)
            tape = sum(bool(line.text) for line in lines)
            fix = fix_of(edition, lines, club.unit, places)
        if do == "keep":
            return _keep(request, edition, fix, team, coach)
        page |= places_page(club, edition, places, fix, tape)
        return JsonResponse(places_answer(page | {"asks_team": coach is not None})) if wants_json(request) else None
    except HelmroomError as error:
        if wants_json(request):
            raise
        page |= {"error": error.message, "status": error.status}
        return None


def _keep(
    request: HttpRequest, edition: TierVersion, fix: SolvedSurvey | None, team: Team | None, coach: Coach | None
) -> HttpResponse:
    if team is None or fix is None:
        raise InputError(PlanningCode.NO_TEAM, _("Choose the team whose table this is."))
    keep_survey(team, edition, fix, now=timezone.now(), by=coach)
    if coach is not None:
        words = _("Kept. The courses of team %(team)s are drawn where the picture has things from now on.") % {
            "team": isolated(team)
        }
        leads = reverse("tier_picture", args=[edition.tier_id])
    else:
        words = _("Kept. Your course is drawn where the picture has things from now on.")
        leads = f"{reverse('team_course')}?tier={edition.tier_id}"
    messages.success(request, words)
    return JsonResponse({"leads": leads}) if wants_json(request) else redirect(leads)


@takes_picture
@require_http_methods(["GET", "POST"])
def team_stopped(request: HttpRequest) -> HttpResponse:
    """Where the robot stopped. POST: a picture, ``moment`` and ``at_target``; a script fills the run's form with the answer."""
    seat = access.require_team(request)
    check_switched_on(seat.club)
    tier = chosen_tier(seat, request.POST.get("tier") or request.GET.get("tier"))
    edition = current_tier_version(tier) if tier else None
    robot = robot_at(seat.team, timezone.now())
    if tier is None or edition is None or robot is None:
        return render(request, "planning/team/no_course_page.html", {"tab": "team_log", "tier": tier, "robot": robot})
    page: dict[str, Any] = {"tab": "team_log", "tier": tier, "robot": robot, "status": 200}
    page["moments"] = {moment: _(words) for moment, words in MOMENTS.items()}
    page["targets"] = list(enumerate(edition.target_names)) if edition.more_targets else []
    if request.method == "POST":
        moment = request.POST.get("moment", "")
        at = access.as_key(request.POST.get("at_target"))
        try:
            if moment not in MOMENTS or at >= len(edition.targets):
                raise InputError(PlanningCode.NO_MOMENT, _("Say where the robot stands in the picture."))
            seen = see_table(seat.club, edition.version, picture_of(request))
            found, scene = see_own_robot(seen, robot), scene_for(edition, robot)
            unit = seat.club.unit
            said = (
                stopped_at_home(found, scene, unit)
                if moment == "home"
                else stopped_at_target(found, scene, at, moment, unit)
            )
            if wants_json(request):
                return JsonResponse({"fields": said.fields, "words": list(said.words)})
            page["said"] = said
        except HelmroomError as error:
            if wants_json(request):
                raise
            page |= {"error": error.message, "status": error.status}
    part = request.headers.get("X-Part") == "yes"
    template = "planning/team/picture/stopped_part.html" if part else "planning/team/picture/stopped_page.html"
    return render(request, template, page, status=page["status"])
