"""Courses for tests, over the factories' mission, that need no planner."""

from __future__ import annotations

from typing import Any

from classroom.robots.numbers import numbers_for
from motion.check import check_course
from motion.course.actions import Action, Drive, Push, Turn
from planning.courses.rules.typing import scaled_actions
from planning.courses.scene_for import pose_of, scene_for
from planning.courses.services.save_revision import keep_course, scales
from planning.models import Course, Job, Origin
from tests import factories as make

#: On the plain tier: out to the gate, shut it, and back the same way.
THERE_AND_BACK: tuple[Action, ...] = (
    Turn(13, 13),
    Drive(1590),
    Turn(-13, 0),
    Push(90),
    Drive(-90),
    Turn(13, 13),
    Drive(-1590),
)


def planned(
    team: Any, tier: Any, robot: Any, *, job: Job | None = None, aim: str = "steadiest", legs_home: int = 1
) -> Course:
    """What the planner would have kept, for the robot's numbers of now; the way home in so many legs."""
    numbers = numbers_for(robot)
    start = pose_of(tier.version.start)
    actions = (*THERE_AND_BACK[:-1], *[Drive(-1590 / legs_home)] * legs_home)
    true = scaled_actions(actions, start, numbers.distance_scale, numbers.turn_scale)
    check = check_course(scene_for(tier, robot, numbers=numbers), start, true, runs=2000)
    return keep_course(
        team,
        tier,
        robot,
        scales(numbers),
        start,
        true,
        check,
        calibration_id=numbers.calibration.pk if numbers.calibration else None,
        origin=Origin.PLANNER,
        aim=aim,
        job=job,
        now=make.NOW,
    )
