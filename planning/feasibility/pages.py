"""What the pages about “can it be done?” show: the panel in the editor, its answers, and the page that publishes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from django.core import signing
from django.utils.translation import gettext as _

from classroom.models import Club, Robot, RobotState
from missions.editor.pages.editor import problem_lines
from missions.editor.rules.reading import SheetReading
from missions.editor.rules.sheet import MissionSheet, sheet_of
from missions.ladder.rules.typical_robot import typical_robot
from missions.ladder.services.edit_mission import seen_mark
from missions.models import Mission
from motion.course.sentences import keep, kept
from planning.courses.pages.drawings import tightest_drawing
from planning.feasibility.services.check_mission import standing_check
from planning.feasibility.services.feasibility import (
    FeasibilityAnswer,
    FeasibilityQuestion,
    answers_to,
    suggested_limit,
)
from planning.feasibility.verdict_words import NEXT_STEPS

SALT = "helmroom.feasibility"


def signed_questions(questions: Sequence[FeasibilityQuestion]) -> str:
    return signing.dumps(
        [asdict(question) | {"words": keep(question.words)} for question in questions], salt=SALT, compress=True
    )


def read_questions(text: str) -> list[FeasibilityQuestion]:
    """What we packed ourselves; anything else is nothing."""
    try:
        return [
            FeasibilityQuestion(**row | {"words": kept(row["words"])})
            for row in signing.loads(text, salt=SALT, max_age=86_400)
        ]
    except (signing.BadSignature, TypeError, KeyError):
        return []


def panel_page(mission: Mission) -> dict[str, Any]:
    """Whom one may ask about."""
    return {"mission": mission, "section": "missions", **_robots(mission.club)}


def drawing_stops(mission: Mission, sheet: MissionSheet, reading: SheetReading) -> bool:
    """Whether something in the drawing must change first: that is said there, once, and no planner is asked."""
    return any(line.stops for line in problem_lines(reading, sheet, mission.club))


def answers_page(
    mission: Mission, asked: Sequence[FeasibilityQuestion], *, unread: int = 0, stops: bool = False
) -> dict[str, Any]:
    """How far the answers are. ``unread``: boxes of the form that kept it from being asked; ``stops``: the drawing did."""
    answers = answers_to(mission.club, asked)
    return {
        "mission": mission,
        "section": "missions",
        "lines": [_line(answer) for answer in answers],
        "open": any(answer.is_open for answer in answers),
        "ask": signed_questions(asked),
        "limits": _limits(answers),
        "in_service": Robot.objects.filter(club=mission.club, state=RobotState.IN_SERVICE).count(),
        "unread": unread,
        "stops": stops,
    }


def publish_page(mission: Mission, choice: str) -> dict[str, Any]:
    """The draft tier by tier, whether it may be published, and what the club's other robots cannot do."""
    check = standing_check(mission, choice)
    problems = problem_lines(SheetReading(check.document), sheet_of(check.document, mission.club.unit), mission.club)
    stops = any(line.stops for line in problems)
    return {
        "mission": mission,
        "section": "missions",
        "version": check.version,
        "seen": seen_mark(check.version),
        "choice": choice,
        "check": check,
        "lines": [] if stops else [_line(answer) for answer in check.answers],
        "problems": problems,
        "stops": stops,
        "may_publish": check.passes and not stops,
        **_robots(mission.club),
    }


def _line(answer: FeasibilityAnswer) -> dict[str, Any]:
    return {
        "answer": answer,
        "drawing": tightest_drawing(answer.job) if answer.job else None,
        "next_step": _(NEXT_STEPS[answer.verdict.code]) if answer.verdict.code in NEXT_STEPS else "",
    }


def _limits(answers: Sequence[FeasibilityAnswer]) -> list[dict[str, Any]]:
    """A suggested limit for each timed tier, from all robots asked about."""
    found = []
    for key in dict.fromkeys(a.question.tier for a in answers if a.question.kind == "timed"):
        mine = [answer for answer in answers if answer.question.tier == key]
        limit = suggested_limit(mine)
        if limit is not None:
            found.append({"tier": key, "name": mine[0].question.tier_name, "seconds": limit, "robots": len(mine)})
    return found


def _robots(club: Club) -> dict[str, Any]:
    return {"robots": Robot.objects.filter(club=club, state=RobotState.IN_SERVICE), "typical": typical_robot(club)}
