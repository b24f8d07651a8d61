"""Can it be done? Asked from the editor, answered as it comes; and publishing, which hangs on the answer."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.contrib import messages
from django.core import signing
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from classroom.access import require_coach
from classroom.errors import HelmroomError
from classroom.models import Club, Robot, RobotState
from missions.access import get_mission
from missions.editor.page import problem_lines
from missions.editor.reading import Reading
from missions.editor.sheet import sheet_of
from missions.models import Mission
from missions.services.edit_mission import newest_version, seen_mark
from missions.services.mission_file import document_of
from missions.services.publish_mission import publish_mission
from missions.typical_robot import typical_nose, typical_robot
from planning.asked_mission import asked_about
from planning.drawings import tightest_drawing
from planning.services.feasibility import (
    Answer,
    Question,
    answers_to,
    ask_feasibility,
    robots_for,
    standing_questions,
    suggested_limit,
)

SALT = "helmroom.feasibility"


@require_http_methods(["GET", "POST"])
def feasibility_panel(request: HttpRequest, pk: int) -> HttpResponse:
    """GET shows whom one may ask about; POST asks about the form as it stands, or the saved draft without one."""
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    if request.method == "GET":
        return render(request, "planning/feasibility/panel.html", _panel(mission))
    sheet, reading = asked_about(mission, request.POST)
    robots = robots_for(coach.club, request.POST.get("robot", ""))
    before = _unpack(request.POST.get("ask", ""))
    if reading.document is None:
        return _answer(request, mission, [], {"unread": len(reading.errors)})
    keys = [tier.key for tier in sheet.tiers]
    asked = ask_feasibility(coach.club, coach, reading.document, keys, robots, now=timezone.now(), before=before)
    if not request.htmx:  # type: ignore[attr-defined]
        return redirect(f"{reverse('feasibility_look', args=[pk])}?ask={_pack(asked)}")
    return _answer(request, mission, asked)


@require_GET
def feasibility_look(request: HttpRequest, pk: int) -> HttpResponse:
    """How far the answers are."""
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    asked = _unpack(request.GET.get("ask", ""))
    if not asked:
        raise Http404
    return _answer(request, mission, asked)


@require_http_methods(["GET", "POST"])
def mission_publish(request: HttpRequest, pk: int) -> HttpResponse:
    """The draft tier by tier with the planner's verdicts; publishing is refused while one is missing or says no."""
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    choice = (request.POST if request.method == "POST" else request.GET).get("robot", "")
    if request.method == "POST":
        if request.POST.get("do") == "check":
            _check_saved(request, mission, choice)
            return redirect(f"{reverse('mission_publish', args=[pk])}?robot={choice if choice.isdecimal() else ''}")
        try:
            version = publish_mission(
                mission,
                coach=coach,
                seen=request.POST.get("seen", ""),
                verdicts={int(a.question.tier): a.verdict for a in _standing(mission, choice)},
                now=timezone.now(),
            )
        except HelmroomError as error:
            messages.error(request, error.message)
            return redirect("mission_publish", pk)
        messages.success(
            request, f"Version {version.number} of “{mission}” is published. Runs on older ones stay theirs."
        )
        return redirect("missions")
    context = _publish_context(mission, choice)
    template = "publish_part.html" if request.htmx else "publish.html"  # type: ignore[attr-defined]
    return render(request, f"planning/feasibility/{template}", context)


def _pack(questions: list[Question]) -> str:
    return signing.dumps([asdict(question) for question in questions], salt=SALT, compress=True)


def _unpack(packed: str) -> list[Question]:
    """What we packed ourselves; anything else is nothing."""
    try:
        return [Question(**row) for row in signing.loads(packed, salt=SALT, max_age=86_400)]
    except (signing.BadSignature, TypeError):
        return []


def _answer(
    request: HttpRequest, mission: Mission, asked: list[Question], more: dict[str, Any] | None = None
) -> HttpResponse:
    answers = answers_to(mission.club, asked)
    context = {
        "mission": mission,
        "door": "missions",
        "lines": [_line(answer) for answer in answers],
        "open": any(answer.is_open for answer in answers),
        "ask": _pack(asked),
        "limits": _limits(answers),
        **(more or {}),
    }
    template = "answers.html" if request.htmx else "look.html"  # type: ignore[attr-defined]
    return render(request, f"planning/feasibility/{template}", context)


def _line(answer: Answer) -> dict[str, Any]:
    return {"answer": answer, "drawing": tightest_drawing(answer.job) if answer.job else None}


def _limits(answers: list[Answer]) -> list[dict[str, Any]]:
    """A suggested limit for each timed tier, from all robots asked about."""
    found = []
    for key in dict.fromkeys(a.question.tier for a in answers if a.question.kind == "timed"):
        mine = [answer for answer in answers if answer.question.tier == key]
        limit = suggested_limit(mine)
        if limit is not None:
            found.append({"tier": key, "name": mine[0].question.tier_name, "seconds": limit, "robots": len(mine)})
    return found


def _panel(mission: Mission) -> dict[str, Any]:
    return {"mission": mission, "door": "missions", **_robots(mission.club)}


def _robots(club: Club) -> dict[str, Any]:
    return {"robots": Robot.objects.filter(club=club, state=RobotState.IN_SERVICE), "typical": typical_robot(club)}


def _standing(mission: Mission, choice: str) -> list[Answer]:
    club = mission.club
    version = newest_version(mission)
    robot = robots_for(club, choice if choice != "all" else "")[0]
    return answers_to(club, standing_questions(version, document_of(version, typical_nose(club)), robot, club))


def _check_saved(request: HttpRequest, mission: Mission, choice: str) -> None:
    coach = require_coach(request, to_change=True)
    document = document_of(newest_version(mission), typical_nose(mission.club))
    keys = [str(i) for i in range(len(document["tiers"]))]
    robots = robots_for(mission.club, choice if choice != "all" else "")
    ask_feasibility(mission.club, coach, document, keys, robots, now=timezone.now())


def _publish_context(mission: Mission, choice: str) -> dict[str, Any]:
    version = newest_version(mission)
    document = document_of(version, typical_nose(mission.club))
    answers = _standing(mission, choice)
    sheet = sheet_of(document, mission.club.unit)
    problems = problem_lines(Reading(document), sheet, mission.club)
    return {
        "mission": mission,
        "door": "missions",
        "version": version,
        "seen": seen_mark(version),
        "choice": choice,
        "lines": [_line(answer) for answer in answers],
        "open": any(answer.is_open for answer in answers),
        "unasked": any(a.verdict.feasible is None and not a.is_open for a in answers),
        "problems": problems,
        "stops": any(line.stops for line in problems),
        "may_publish": not any(line.stops for line in problems) and all(a.verdict.feasible for a in answers),
        **_robots(mission.club),
    }
