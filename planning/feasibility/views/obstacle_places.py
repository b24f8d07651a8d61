"""Where could an obstacle go? Asked for the tier that the editor shows."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from classroom.access import require_coach
from classroom.errors import HelmroomError
from classroom.site.figures import in_own_digits
from classroom.site.htmx_request import HtmxHttpRequest
from missions.access import get_mission
from missions.models import Mission
from motion.errors import UnitError
from motion.scene.files import scene_from_dict
from motion.scene.records import Obstacle
from motion.units import format_length, parse_length
from planning.access import get_job
from planning.courses.rules.course_json import actions_from_json
from planning.courses.scene_for import pose_of
from planning.feasibility.asked_mission import asked_about
from planning.feasibility.services.feasibility import robots_for
from planning.feasibility.services.obstacle_places import OBSTACLE_PLACES, ask_for_places
from planning.models import Job, JobState

USUAL_ROOM_MM = 20.0


@require_http_methods(["GET", "POST"])
def obstacle_places(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """GET shows the question; POST asks it about the form as it stands, or the saved draft without one."""
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    sheet, reading = asked_about(mission, request.POST)
    if request.method == "GET":
        tiers = [(tier.key, tier.name) for tier in sheet.tiers]
        return _question(request, mission, {"tiers": tiers, "room": _usual_room(coach.club.unit)})
    if reading.document is None:
        return _answer(request, mission, {"wrong": _("Put right what is wrong in the form, then ask again.")})
    keys = [tier.key for tier in sheet.tiers]
    key = request.POST.get("for_tier") or sheet.shown
    index = keys.index(key) if key in keys else 0
    try:
        room_mm = parse_length(request.POST.get("room", ""), coach.club.unit)
        robot = robots_for(coach.club, request.POST.get("robot", "").replace("all", ""))[0]
        job = ask_for_places(coach.club, coach, reading.document, index, robot, room_mm, now=timezone.now())
    except (HelmroomError, UnitError) as error:
        return _answer(request, mission, {"wrong": error.message})
    if not request.htmx:
        return redirect(f"{reverse('obstacle_look', args=[pk, job.pk])}?tier={keys[index]}")
    return _look(request, mission, job, keys[index])


@require_GET
def obstacle_look(request: HtmxHttpRequest, pk: int, job_pk: int) -> HttpResponse:
    """How far the search is, and what it found."""
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    job = get_job(coach, job_pk)
    tier = request.GET.get("tier", "")
    if job.kind != OBSTACLE_PLACES or not re.fullmatch(r"[a-z][a-z0-9]{0,11}", tier):
        raise Http404
    return _look(request, mission, job, tier)


def _look(request: HtmxHttpRequest, mission: Mission, job: Job, tier: str) -> HttpResponse:
    found = (job.result or {}).get("proposals", []) if job.state == JobState.DONE else []
    unit = mission.club.unit
    proposals = [_shown(job, proposal, tier, unit) for proposal in found]
    measured = job.input["scene"]["noise"].get("runs") if proposals else None
    return _answer(request, mission, {"job": job, "tier": tier, "proposals": proposals, "measured_runs": measured})


def _shown(job: Job, proposal: dict[str, Any], tier: str, unit: str) -> dict[str, Any]:
    corners = " ".join(f"{x:g},{y:g}" for x, y in proposal["outline"])
    said = [
        in_own_digits(f"({format_length(x, unit, with_unit=False)}, {format_length(y, unit)})")
        for x, y in proposal["outline"]
    ]
    step = " ".join(("put", "obstacle", tier, corners))
    return {**proposal, "drawing": _drawing(job, proposal, unit), "step": step, "corners": ", ".join(said)}


def _drawing(job: Job, proposal: dict[str, Any], unit: str) -> SafeString:
    from motion.picture.chart import course_svg  # late: it brings the kernels in, which the first page does without

    scene = scene_from_dict(job.input["scene"])
    new = Obstacle(tuple((x, y) for x, y in proposal["outline"]), _("new"))
    start = pose_of(proposal["start"])
    svg = course_svg(
        replace(scene, obstacles=(*scene.obstacles, new)),
        start=start,
        actions=actions_from_json(proposal["actions"], start),
        standalone=False,
        unit=unit,
    )
    return mark_safe(svg)


def _question(request: HtmxHttpRequest, mission: Mission, more: dict[str, Any]) -> HttpResponse:
    """What one may ask: the fragment for a script, else a page around it."""
    ask = "planning/feasibility/places_ask_part.html" if request.htmx else "planning/feasibility/places_ask_page.html"
    return render(request, ask, {"mission": mission, "section": "missions", **more})


def _answer(request: HtmxHttpRequest, mission: Mission, more: dict[str, Any]) -> HttpResponse:
    """How far the search is or what it found: the fragment for a script, else a page around it."""
    places = "planning/feasibility/places_part.html" if request.htmx else "planning/feasibility/places_page.html"
    return render(request, places, {"mission": mission, "section": "missions", **more})


def _usual_room(unit: str) -> str:
    return format_length(25.4 if unit == "in" else USUAL_ROOM_MM, unit)
