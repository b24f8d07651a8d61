"""A team's own course, checked while the team looks on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from classroom.models import Robot, Team
from classroom.robots.numbers import RobotNumbers, numbers_for
from missions.models import TierVersion
from motion.course.actions import Action, Check
from motion.scene.records import Pose
from planning.courses.learned import known_robot
from planning.courses.rules.known_robot import KnownRobot
from planning.courses.rules.typing import driving
from planning.courses.scene_for import scene_for
from planning.preparing.checks import check_now

#: What stands for all that the robot might be while a draft is changed: enough for "about 84 in 100", quick enough to be
#: asked after every change.
DRAFT_HYPOTHESES = 64


def check_draft(
    team: Team,
    tier_version: TierVersion,
    robot: Robot,
    start: Pose,
    actions: Sequence[Action],
    *,
    numbers: RobotNumbers | None = None,
    known: KnownRobot | None = None,
) -> Check:
    """What would happen if the team ran this: clear or every touch, room, landing, chance, time.

    Parameters
    ----------
    start
        Where the team sets its robot down.
    actions
        As typed (turns counter-clockwise positive); the robot's calibration turns them into what it truly does.
    numbers, known
        Of the robot; looked up when not given.

    Raises
    ------
    NotReadyError
        ``planner_not_ready``: the kernels are not compiled yet.

    Notes
    -----
    The simulated runs are the same for every course of a robot: asking twice gives the same answer, and of two courses
    the better one has the higher chance.
    """
    numbers = numbers or numbers_for(robot)
    drives = driving(actions, start, robot, numbers)
    known = known or known_robot(robot, numbers)
    known = replace(known, hypotheses=known.hypotheses.thinned(DRAFT_HYPOTHESES))
    scene = scene_for(tier_version, robot, numbers=numbers, known=known)
    return check_now(scene, start, drives.expected, told=drives.told)
