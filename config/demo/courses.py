"""The ways over the table that the demonstration teams drive: (do, mm or degrees to the left), in order."""

from __future__ import annotations

from motion.course.actions import Action, Drive, Push, Turn
from motion.scene.records import Pose

Steps = tuple[tuple[str, float], ...]

_ROUND_THE_BANK: Steps = (
    ("drive", 1000), ("turn", 39), ("drive", 670), ("turn", -39), ("push", 110),
    ("drive", -60), ("turn", -145), ("drive", 670), ("turn", -31), ("drive", 760),
)  # fmt: skip

COURSES: dict[tuple[str, int], Steps] = {
    ("Tide gate", 1): (
        ("drive", 490), ("turn", 37), ("drive", 700), ("turn", -37), ("drive", 470), ("push", 100),
        ("drive", -310), ("turn", 18), ("drive", -1230),
    ),
    ("Tide gate", 2): _ROUND_THE_BANK,
    ("Tide gate", 3): _ROUND_THE_BANK,
    ("Fog bell", 1): (
        ("drive", 1280), ("turn", 90), ("drive", 280), ("push", 90), ("drive", -60), ("turn", 103), ("drive", 1030),
    ),
    ("Fog bell", 2): (
        ("turn", 23), ("drive", 400), ("turn", 2), ("drive", 290), ("turn", 156), ("drive", -650), ("turn", -91),
        ("push", 90), ("drive", -60), ("turn", 89), ("drive", 470), ("turn", 25), ("drive", 590),
    ),
    ("Causeway crate", 1): (
        ("drive", 700), ("turn", 35), ("drive", 820), ("turn", -77), ("drive", 580), ("turn", -139), ("push", 150),
        ("drive", -60), ("turn", -38), ("drive", 530), ("turn", 57), ("drive", 1030),
    ),
}  # fmt: skip


def course_of(mission: str, rung: int, start: Pose) -> tuple[Action, ...]:
    """The way over the table, with its headings counted on from the start."""
    heading = start.heading_deg
    actions: list[Action] = []
    for do, value in COURSES[mission, rung]:
        if do == "turn":
            heading += value
            actions.append(Turn(value, heading))
        else:
            actions.append(Drive(value) if do == "drive" else Push(value))
    return tuple(actions)
