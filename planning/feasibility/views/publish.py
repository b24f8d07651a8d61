"""Checking a draft and publishing it: refused while the robot that decides cannot do a tier, or has not been asked."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from classroom.access import require_coach
from classroom.errors import HelmroomError
from classroom.models import Coach
from classroom.site.htmx_request import HtmxHttpRequest
from classroom.site.isolated import isolated
from missions.access import get_mission
from missions.ladder.services.publish_mission import publish_mission
from missions.models import Mission
from planning.feasibility.pages import publish_page
from planning.feasibility.services.check_mission import check_mission, standing_check


@require_http_methods(["GET", "POST"])
def mission_publish(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """The draft tier by tier with the planner's answers."""
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    if request.method == "GET":
        template = (
            "planning/feasibility/publish_part.html" if request.htmx else "planning/feasibility/publish_page.html"
        )
        page = publish_page(mission, _choice(request.GET.get("robot", "")))
        return render(request, template, page)
    choice = _choice(request.POST.get("robot", ""))
    if request.POST.get("do") == "check":
        check_mission(mission, coach, choice, now=timezone.now())
    elif _publish(request, coach, mission, choice):
        return redirect("missions")
    return redirect(reverse("mission_publish", args=[pk]) + (f"?robot={choice}" if choice else ""))


def _publish(request: HtmxHttpRequest, coach: Coach, mission: Mission, choice: str) -> bool:
    check, seen = standing_check(mission, choice), request.POST.get("seen", "")
    try:
        version = publish_mission(
            mission, coach=coach, seen=seen, verdicts=check.verdicts, checked_with=check.robot, now=timezone.now()
        )
    except HelmroomError as error:
        messages.error(request, error.message)
        return False
    said = _(
        "Version %(number)s of “%(mission)s” is published, checked with %(robot)s. Runs on older ones stay theirs."
    )
    told = {"number": version.number, "mission": isolated(version.title), "robot": isolated(check.robot_said)}
    messages.success(request, said % told)
    return True


def _choice(text: str) -> str:
    """A robot's number, or nothing: then it is the typical one."""
    return text if text.isascii() and text.isdigit() and len(text) < 15 else ""
