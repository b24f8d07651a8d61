"""Runs as they were logged: where each met the target, or only whether it worked."""

from __future__ import annotations

from dataclasses import dataclass

from motion.course.actions import Action
from motion.scene.records import Pose, Scene

#: What a ruler and an eye add to each miss (SD): along and lateral in mm, heading in degrees. Common practice, no source.
READING_SD = (3.0, 3.0, 1.5)


@dataclass(frozen=True)
class Miss:
    """One logged landing of the nose: along the push (positive too far), to its left, turned left; None where not measured."""

    lateral_mm: float | None = None
    along_mm: float | None = None
    heading_deg: float | None = None

    @property
    def measured(self) -> bool:
        return not (self.lateral_mm is None and self.along_mm is None and self.heading_deg is None)


@dataclass(frozen=True)
class Logged:
    """Runs of one course from one start.

    ``told`` is what the robot was told, action by action, when that is not the course itself; ``worked`` of ``unmeasured``
    are the runs of which no miss is known.
    """

    scene: Scene
    start: Pose
    actions: tuple[Action, ...]
    misses: tuple[Miss, ...]
    told: tuple[Action, ...] | None = None
    worked: int = 0
    unmeasured: int = 0
