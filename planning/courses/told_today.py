"""Which numbers are typed for a kept plan today."""

from __future__ import annotations

from classroom.models import Robot
from motion.course.actions import Action
from planning.courses.rules.course_json import actions_from_json
from planning.courses.rules.typing import KeptScales, Scales, typed
from planning.courses.scene_for import pose_of
from planning.models import Course, Origin


def told_today(course: Course, robot: Robot, numbers: Scales, *, put_right: bool = False) -> tuple[Action, ...]:
    """The numbers to type for a kept plan.

    A planner's plan keeps its way over the table: after a calibration other numbers are typed for it. A team's own
    keeps the numbers that it typed, and may have tried until they worked: after a calibration it is known to go
    another way. ``put_right``, and another robot, have a team's plan keep its way as well.
    """
    start = pose_of(course.start)
    true = actions_from_json(course.actions, start)
    keeps_numbers = course.origin == Origin.TEAM and robot.pk == course.robot_id and not put_right
    return typed(true, start, robot, KeptScales(**course.numbers) if keeps_numbers else numbers)
