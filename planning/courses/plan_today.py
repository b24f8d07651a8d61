"""A kept plan as it stands today: the numbers that are typed for it, on which map, and what comes of them."""

from __future__ import annotations

from dataclasses import dataclass

from classroom.robots.numbers import RobotNumbers, numbers_for
from missions.models import TierVersion
from motion.course.actions import Action, Check
from motion.scene.records import Pose, Scene
from planning.courses.learned import known_robot
from planning.courses.remembered import key_of, remembered
from planning.courses.rules.course_json import actions_from_json, check_from_json
from planning.courses.rules.known_robot import KnownRobot
from planning.courses.rules.typing import KeptScales, Scales, driving
from planning.courses.scene_for import pose_of, scene_for
from planning.courses.told_today import told_today
from planning.models import Course, Origin
from planning.preparing.checks import NotReadyError, check_now
from planning.team.measured import edition_of


@dataclass(frozen=True)
class PlanToday:
    """``told`` are the numbers to type, ``true`` what the robot should do with them; ``check`` is of just those, with all
    that is known of the robot today.

    ``facts`` writes out all that what comes of them depends on. ``moved``: the numbers that the robot is known by are others than when the plan was kept; ``measured_since``: it has been measured, so
    that at least its scatter is known anew.
    """

    course: Course
    scene: Scene
    start: Pose
    told: tuple[Action, ...]
    true: tuple[Action, ...]
    check: Check
    numbers: RobotNumbers
    known: KnownRobot
    moved: bool
    measured_since: bool
    facts: str


def plan_today(
    course: Course,
    *,
    numbers: RobotNumbers | None = None,
    known: KnownRobot | None = None,
    edition: TierVersion | None = None,
) -> PlanToday:
    """The plan with the robot's numbers in force, checked anew if it has been measured since or was kept unchecked.

    A page of many plans asks for the robots' numbers, what is known of them and the maps (``edition_of``) at once.

    Raises
    ------
    NotReadyError
        ``planner_not_ready``: the kernels are not compiled yet, and what was kept is not of today's numbers.
    """
    numbers = numbers or numbers_for(course.robot)
    start = pose_of(course.start)
    moved = _differs(course, numbers)
    told = told_today(course, course.robot, numbers)
    drives = driving(told, start, course.robot, numbers)
    true = drives.expected
    if not moved and course.origin == Origin.PLANNER:
        true = actions_from_json(course.actions, start)  # as it was searched for, unrounded where nothing is typed
    measured_since = moved or course.calibration_id != (numbers.calibration.pk if numbers.calibration else None)
    known = known or known_robot(course.robot, numbers)
    scene = scene_for(edition or edition_of(course), course.robot, numbers=numbers, known=known)
    facts = f"{true!r} {told!r} {drives.told!r} {scene!r}"
    try:
        check = remembered(
            key_of("plan", f"{course.pk} {facts}"), lambda: check_now(scene, start, true, told=drives.told)
        )
    except NotReadyError:
        if not course.check_result or measured_since:
            raise
        check = check_from_json(course.check_result)
    return PlanToday(course, scene, start, told, true, check, numbers, known, moved, measured_since, facts)


def _differs(course: Course, now: Scales) -> bool:
    """A team's plan keeps the scales alone: what it typed allows for nothing else."""
    then = KeptScales(**course.numbers)
    apart = [then.distance_scale / now.distance_scale - 1, then.turn_scale / now.turn_scale - 1]
    if course.origin == Origin.PLANNER:
        apart += [then.turn_bias_deg - now.turn_bias_deg, then.drift_deg_per_m - now.drift_deg_per_m]
    return any(abs(each) > 1e-9 for each in apart)
