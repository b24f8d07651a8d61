"""Rounding as one would by hand, to see what rounding jointly is worth."""

from __future__ import annotations

from collections.abc import Sequence

from motion.course.actions import Action, Drive, Turn
from motion.scene.records import Pose, RobotSpec


def rounded_one_by_one(actions: Sequence[Action], start: Pose, robot: RobotSpec) -> tuple[Action, ...]:
    """Every number rounded by itself."""
    step, heading, true = robot.turn_step_deg, start.heading_deg, start.heading_deg
    result: list[Action] = []
    for action in actions:
        if isinstance(action, Turn):
            true += action.by_deg
            to = start.heading_deg + round((true - start.heading_deg) / step) * step
            result.append(Turn(to - heading, to))
            heading = to
        elif isinstance(action, Drive):
            result.append(Drive(round(action.distance_mm / robot.distance_step_mm) * robot.distance_step_mm))
        else:
            result.append(action)
    return tuple(result)
