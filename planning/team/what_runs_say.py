"""What a run says together with the ones before it: the diagnosis of a team's last measured misses."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from classroom.models import Robot
from classroom.robots.kinds import key_that_puts_right
from classroom.robots.numbers import numbers_for
from missions.models import Attempt
from motion.calibration.diagnosis import Diagnosis, diagnose
from motion.chance.logged import Logged, Miss
from motion.errors import MotionError
from planning.courses.rules.course_json import actions_from_json
from planning.courses.rules.plain_words import plainly
from planning.courses.rules.typing import CardRow, card_rows, typed
from planning.courses.scene_for import pose_of, scene_for
from planning.models import Course

LAST = 12


@dataclass(frozen=True)
class Said:
    """In words: what, on what evidence, what to try.

    ``rows`` are the numbers to try, empty when none should change; ``changed`` their row numbers. They undo what the
    robot does wrong, so they are no new plan: a map drawn from them would miss. ``measure`` is the kind of calibration
    that would put it right for good.
    """

    verdict: str
    sentence: str
    evidence: str
    advice: str
    rows: tuple[CardRow, ...] = ()
    changed: frozenset[int] = frozenset()
    measure: str = ""


def what_runs_say(attempt: Attempt, unit: str) -> Said | None:
    """None when there is nothing to compare: no plan or no robot is known, or no miss was measured.

    Only runs of the same robot with the same calibration count, up to ``LAST`` of them; runs of other plans of the
    tier count too, since different courses tell causes apart.
    """
    robot = attempt.robot
    course = _plans(attempt).get(attempt.plan_number or 0)
    if robot is None or course is None:
        return None
    logged = _logged(attempt, course, robot)
    if not any(each.misses for each in logged):
        return None
    try:
        found = diagnose(logged)
    except MotionError:
        return None  # a plan that never reaches the target explains no miss
    return _said(found, logged[0], robot, unit)


def _plans(attempt: Attempt) -> dict[int, Course]:
    plans = Course.objects.filter(team=attempt.team, tier_version__tier=attempt.tier_id).visible_to_team()
    return {plan.number: plan for plan in plans.select_related("tier_version__version__mission", "tier_version__tier")}


def _logged(attempt: Attempt, course: Course, robot: Robot) -> list[Logged]:
    """This run's plan first, then the other plans among its last runs."""
    plans = _plans(attempt)
    runs = Attempt.objects.standing().filter(
        team=attempt.team_id,
        tier=attempt.tier_id,
        robot=robot,
        calibration=attempt.calibration_id,
        made_at__lte=attempt.made_at,
        plan_number__in=plans,
    )
    last = list(runs.order_by("-made_at", "-pk")[:LAST])
    by_plan = {number: list(group) for number, group in groupby(sorted(last, key=_plan), key=_plan)}
    order = [course.number] + [number for number in by_plan if number != course.number]
    return [_one(plans[number], robot, by_plan.get(number, ())) for number in order]


def _plan(run: Attempt) -> int:
    return run.plan_number or 0


def _one(plan: Course, robot: Robot, runs: Iterable[Attempt]) -> Logged:
    start = pose_of(plan.start)
    misses = tuple(
        Miss(run.lateral_mm, run.along_mm, run.heading_error_deg)
        for run in runs
        if run.lateral_mm is not None or run.along_mm is not None
    )
    return Logged(scene_for(plan.tier_version, robot), start, actions_from_json(plan.actions, start), misses)


def _said(found: Diagnosis, first: Logged, robot: Robot, unit: str) -> Said:
    sentence, evidence, advice = (plainly(text, unit) for text in (found.sentence, found.evidence, found.advice))
    measure = key_that_puts_right(found.findings[0].parameter) if found.findings else ""
    numbers = numbers_for(robot)
    before = typed(first.actions, first.start, robot, numbers)
    after = typed(found.corrected, first.start, robot, numbers)
    if found.verdict != "pattern" or after == before:
        return Said(found.verdict, sentence, evidence, advice, measure=measure)
    old, new = (card_rows(actions, robot, unit) for actions in (before, after))
    changed = frozenset(b.number for a, b in zip(old, new, strict=True) if a != b)
    return Said(found.verdict, sentence, evidence, advice, tuple(new), changed, measure)
