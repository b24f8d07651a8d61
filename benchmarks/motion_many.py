"""Courses over several targets: how long they take to find, and how near they come to a brute force over orders.

The reference tries every order, and each phase with searches an order of magnitude longer: several seeds, a finer grid,
more legs, many times the refining. It knows nothing of bounds, of the planner's chains or of what they leave out.
"""

from __future__ import annotations

import itertools
import time
from functools import cache

import numpy as np

from benchmarks.figures import Figure, percentile
from motion.course.times import course_seconds
from motion.errors import NoCourseError
from motion.ground.errands import in_the_way, world_of
from motion.scene.checks import scene_problems
from motion.scene.records import Obstacle, Scene
from motion.search.onward import OnwardFinder
from motion.search.parts import DEEP_GRID_MM, PartFinder, way_actions
from motion.search.paths import find_paths
from motion.search.phases import Caution, push_end
from motion.search.plan import plan_courses
from tests.motion.scenes import plain_scene, random_blob, target_at
from tests.oracles.judge import judge_course

SCENES, SEEDS, EFFORT = 8, 3, 4.0


def random_scene(seed: int, targets: int) -> Scene:
    """Two obstacles and two or three targets anywhere on the table, in any order, that make sense and can be done."""
    rng = np.random.default_rng(seed)
    while True:
        first, *more = (
            target_at(*rng.uniform([350, 300], [2050, 900]), float(rng.uniform(-180, 180)), name=name)
            for name in ("fog bell", "crate", "buoy")[:targets]
        )
        blobs = tuple(Obstacle(random_blob(rng, 2400, 1200)) for _ in range(2))
        scene = plain_scene(target=first, more_targets=tuple(more), obstacles=blobs, any_order=True)
        if scene_problems(scene):
            continue
        try:
            plan_courses(scene, "fastest", exact=True)
        except NoCourseError:
            continue
        return scene


class Reference:
    """The shortest time of a scene's phases by long searches; a phase is searched for once."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.known: dict[tuple, float] = {}

    def best(self) -> float:
        """Seconds of the best chain over every order."""
        pushes = sum(self._push_seconds(i) for i in range(len(self.scene.targets)))
        return pushes + min(self._order(order) for order in itertools.permutations(range(len(self.scene.targets))))

    def _push_seconds(self, i: int) -> float:
        from motion.course.actions import Push

        return course_seconds(self.scene.robot, [Push(self.scene.targets[i].push_leg_mm)])[0]

    def _order(self, order: tuple[int, ...]) -> float:
        if any(in_the_way(self.scene, each, order[:k]) is not None for k, each in enumerate(order)):
            return np.inf
        return sum(self._phase(order[:k], after) for k, after in enumerate((*order, None)))

    def _phase(self, pushed: tuple[int, ...], target: int | None) -> float:
        key = (frozenset(pushed), pushed[-1:], target)
        if key not in self.known:
            self.known[key] = min((self._searched(pushed, target, seed) for seed in range(SEEDS)), default=np.inf)
        return self.known[key]

    def _searched(self, pushed: tuple[int, ...], target: int | None, seed: int) -> float:
        how = {"exact": True, "seed": seed, "tick": lambda: None}
        start = self.scene.start
        if not pushed:
            finder = PartFinder(world_of(self.scene, target, frozenset()), **how)
            task = finder.phases.out_task(Caution(), start)
        else:
            before = world_of(self.scene, pushed[-1], frozenset(pushed[:-1]))
            start = push_end(before)
            if target is None:
                finder = PartFinder(before, **how)
                task = finder.phases.home_task(Caution(), start)
            else:
                finder = OnwardFinder(before, world_of(self.scene, target, frozenset(pushed)), start, **how)
                task = finder.phases.out_task(Caution(), start)
        ways = [
            way
            for spacing, levels in ((150.0, 6), (DEEP_GRID_MM, 8))
            for way in find_paths(
                task, finder.phases.slim(), seed=977 * seed + 5, effort=EFFORT, spacing=spacing, levels=levels
            )
        ]
        times = (course_seconds(self.scene.robot, way_actions(way, start.heading_deg))[0] for way in ways[:40])
        return min(times, default=np.inf)


@cache
def _measured() -> list[tuple[float, float, float]]:
    """Of each scene: seconds of the exact course over the reference's, processor seconds exact, and rounded."""
    rows = []
    plan_courses(random_scene(1, 2), "fastest")  # kernels loaded
    for number in range(SCENES):
        scene = random_scene(100 + number, 2 + number % 2)
        begun = time.process_time()
        course = plan_courses(scene, "fastest", exact=True)[0]
        exact_s = time.process_time() - begun
        begun = time.process_time()
        rounded = plan_courses(scene, "fastest")[0]
        rounded_s = time.process_time() - begun
        for each in (course, rounded):
            assert judge_course(scene, each.start, each.actions).clear
        rows.append((course.check.duration_s / Reference(scene).best(), exact_s, rounded_s))
    return rows


def worst_ratio() -> Figure:
    ratios = [row[0] for row in _measured()]
    note = f"fastest over a brute force over orders with long searches, worst of {SCENES}; all: "
    return Figure(max(ratios), "ratio", 1.02, note + " ".join(f"{ratio:.4f}" for ratio in ratios))


def seconds() -> Figure:
    slowest = max(max(row[1:]) for row in _measured())
    median = percentile([max(row[1:]) for row in _measured()], 0.5)
    note = f"fastest over 2 or 3 targets and 2 obstacles, exact or rounded, slowest of {SCENES}; median {median:.2f}"
    return Figure(slowest, "s", 5.0, note + "; processor time")


FIGURES = {"motion.many_worst_ratio": worst_ratio, "motion.many_seconds": seconds}
