"""The ways over the table that the demonstration teams drive, as courses."""

from __future__ import annotations

from config.demo.story import Steps
from motion.course.actions import Action, Drive, Push, Turn
from motion.scene.records import Pose


def course_along(steps: Steps, start: Pose) -> tuple[Action, ...]:
    """The way over the table, with its headings counted on from the start."""
    heading = start.heading_deg
    actions: list[Action] = []
    for do, value in steps:
        if do == "turn":
            heading += value
            actions.append(Turn(value, heading))
        else:
            actions.append(Drive(value) if do == "drive" else Push(value))
    return tuple(actions)
