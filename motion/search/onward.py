"""From the end of one push to the end of the next: an errand that begins by backing off the target before it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from motion.course.actions import Drive, Tool
from motion.ground.clearance import Stage, action_room, ground_of, pose_after
from motion.ground.geometry import Walls
from motion.scene.records import Pose, Scene
from motion.search.kernels.task import Task
from motion.search.parts import WAYS, Part, PartFinder
from motion.search.phases import Caution, Phases, push_end
from motion.search.rounding import Rounded


class OnwardPhases(Phases):
    """Tasks that first back off a target, under the walls that held while it was pushed."""

    def __init__(self, world: Scene, behind: Walls, least_back_mm: float, stop: np.ndarray) -> None:
        super().__init__(world, stop)
        self.behind, self.least_back_mm = behind, least_back_mm

    def out_task(self, caution: Caution, start: Pose, goal: Pose | None = None) -> Task:
        """From the end of the push before to the pre-contact pose (or another goal)."""
        goal = goal or self.scene.target.precontact
        off = push_end(self.scene, start, -self.least_back_mm)
        walls = self._wide_walls("out", caution.extra_mm, (off, goal))
        task = self._task(walls, self.behind, start, goal, caution)
        handling = task.trip.handling._replace(least_back=float(max(self.least_back_mm, 1e-3)))
        return task._replace(trip=task.trip._replace(handling=handling))


class OnwardFinder(PartFinder):
    """Finds parts from the end of a push in one world to the end of the push in the next.

    ``before`` is the world of the target that was pushed last, ``begin`` the pose at the end of that push.
    """

    def __init__(
        self,
        before: Scene,
        world: Scene,
        begin: Pose,
        *,
        exact: bool,
        seed: int,
        tick: Callable[[], None],
        stop: np.ndarray | None = None,
    ) -> None:
        step, least = world.robot.distance_step_mm, world.robot.min_back_off_mm
        back = least if exact else math.ceil(least / step - 1e-9) * step
        moved = replace(world, start=push_end(world, begin, -back))
        super().__init__(moved, exact=exact, seed=seed, tick=tick, stop=stop)
        self.begin = begin
        self.phases = OnwardPhases(self.scene, ground_of(before).push, back, self.phases.stop)

    def outs(self, caution: Caution, ways: int = WAYS, effort: float = 1.0) -> list[Part]:
        """Parts from the end of one push to the end of the next, cheapest first."""
        parts: list[Part] = []
        for goal, approach in self._goals():
            task = self.phases.out_task(caution, self.begin, goal)
            for way in self._ways(task, caution, ways, effort):
                parts += self.parts_along(way, self.begin, goal, approach)
            if parts:
                break
        return sorted(parts, key=lambda part: part.seconds)

    def _with_push(self, item: Rounded, start: Pose, approach: float, way) -> Part | None:
        off, *rest = item.actions
        least = self.scene.robot.min_back_off_mm
        if not (isinstance(off, Drive) and off.distance_mm <= -least + 1e-9):
            return None
        if self.has_tool:
            raised, pose = Tool("raise", self.scene.robot.tool_seconds), pose_after(start, off)
            if action_room(self.phases.ground, Stage("out", True), pose, raised)[0] < self.scene.margin_mm - 1e-6:
                return None
            rest = [raised, *rest]
        return super()._with_push(replace(item, actions=(off, *rest)), start, approach, way)
