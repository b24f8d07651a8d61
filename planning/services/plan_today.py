"""What a kept course does with its robot's numbers of today."""

from __future__ import annotations

from dataclasses import dataclass

from motion.route import Action
from planning.cards import Scales, scaled, typed
from planning.course_json import actions_from_json
from planning.models import Course, Origin
from planning.services.scene_for import pose_of


@dataclass(frozen=True)
class _Kept:
    distance_scale: float = 1.0
    turn_scale: float = 1.0


def plan_today(course: Course, numbers: Scales) -> tuple[tuple[Action, ...], bool]:
    """The true actions of what is typed for it, and whether the robot's numbers have changed since it was kept.

    A planner's course keeps its way over the table: after a calibration other numbers are typed for it. A team's own
    draft keeps the numbers that the team has typed: after a calibration it is known to go another way. Where nothing
    has changed it is what it was checked as.
    """
    start = pose_of(course.start)
    actions = actions_from_json(course.actions, start)
    then = _Kept(**course.numbers) if course.numbers else _Kept()
    if not _differs(then, numbers):
        return actions, False
    to_type = typed(actions, start, course.robot, numbers if course.origin == Origin.PLANNER else then)
    return scaled(to_type, start, numbers.distance_scale, numbers.turn_scale), True


def _differs(then: Scales, now: Scales) -> bool:
    return abs(then.distance_scale / now.distance_scale - 1) > 1e-9 or abs(then.turn_scale / now.turn_scale - 1) > 1e-9
