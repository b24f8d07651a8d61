"""The search and the kernels against other ways to do the same, as ratios within one run on one machine."""

from __future__ import annotations

import math
import time
from functools import cache

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from benchmarks.figures import Figure, best_of
from benchmarks.plain_lattice import LENGTHS, lattice_cost
from benchmarks.planned_courses import SCENES
from benchmarks.sampling_planner import available, rrt_star
from motion.course.actions import Push
from motion.course.times import course_seconds
from motion.ground.clearance import ground_of
from motion.ground.kernels import leg_free
from motion.scene.files import read_scene
from motion.search.parts import PartFinder
from motion.search.phases import Caution, Phases
from tests.motion.compiled import turn_free
from tests.oracles.judge import judge_course

#: Headings, cell and expansions of the lattice.
HEADINGS, CELL_MM, EXPANSIONS = 24, 40.0, 3000
OMPL_SECONDS = 3.0


@cache
def _scenes():
    return [read_scene(path.read_bytes()) for path in SCENES]


@cache
def _ours() -> list[tuple[float, float]]:
    """Cost of the way out and processor seconds it took, every scene."""
    found = []
    for scene in [_scenes()[0], *_scenes()]:
        begun = time.process_time()
        part = PartFinder(scene, exact=True, seed=0, tick=lambda: None).outs(Caution())[0]
        found.append((part.seconds, time.process_time() - begun))
    return found[1:]


@cache
def _lattice() -> list[tuple[float, float]]:
    found = []
    for scene in [_scenes()[0], *_scenes()]:
        task = Phases(scene).out_task(Caution(), scene.start, scene.target.precontact)
        begun = time.process_time()
        cost = lattice_cost(task, LENGTHS, HEADINGS, CELL_MM, EXPANSIONS)
        found.append((cost, time.process_time() - begun))
    return found[1:]


def _ratios(index: int) -> list[float]:
    return [theirs[index] / ours[index] for ours, theirs in zip(_ours(), _lattice(), strict=True)]


def lattice_cost_ratio() -> Figure:
    ratios = [r for r in _ratios(0) if r < math.inf]
    note = f"plain hybrid lattice's way out over ours, median; it solved {len(ratios)} of 10, worst {max(ratios):.3f}"
    return Figure(float(np.median(ratios)), "ratio", None, note)


def lattice_time_ratio() -> Figure:
    note = f"plain hybrid lattice's processor time over ours, median; {HEADINGS} headings, {CELL_MM:g} mm cells"
    return Figure(float(np.median(_ratios(1))), "ratio", None, note)


def _sampling(seconds: float | None) -> Figure:
    """RRT* given so many seconds a scene, or as many as ours took when None."""
    if not available():
        return Figure(math.nan, "ratio", None, "OMPL is not installed (bench extra); not measured")
    ratios = []
    for scene, (cost, took) in zip(_scenes(), _ours(), strict=True):
        task = Phases(scene).out_task(Caution(), scene.start, scene.target.precontact)
        actions = rrt_star(task, took if seconds is None else seconds, seed=1)
        if actions is None:
            continue
        verdict = judge_course(scene, scene.start, [*actions, Push(scene.target.push_leg_mm)])
        if not any(fault.what in ("obstacle", "edge", "target", "window") for fault in verdict.faults):
            ratios.append(course_seconds(scene.robot, actions)[1] / cost)
    given = "as long as ours took" if seconds is None else f"{seconds:g} s"
    note = f"OMPL RRT* given {given}, its way out over ours, median of the {len(ratios)} of 10 it solved; unequal match"
    return Figure(float(np.median(ratios)) if ratios else math.nan, "ratio", None, note)


def sampling_cost_ratio() -> Figure:
    return _sampling(OMPL_SECONDS)


def sampling_cost_ratio_same_time() -> Figure:
    return _sampling(None)


def _random_moves(count: int) -> np.ndarray:
    rng = np.random.default_rng(3)
    return rng.uniform([200, 200, 0, -400, -3], [2200, 1000, 2 * math.pi, 400, 3], (count, 5))


def legs_against_shapely() -> Figure:
    scene = _scenes()[2]
    ground, moves = ground_of(scene), _random_moves(2000)
    walls = shapely.union_all([Polygon(o.outline) for o in scene.obstacles] + [Polygon(scene.target.body)])
    shapely.prepare(walls)
    body = [Polygon(p) for p in scene.robot.footprint]
    table = shapely.box(0, 0, scene.width_mm, scene.depth_mm)

    def ours() -> None:
        for x, y, h, d, _ in moves:
            leg_free(ground.out, ground.travel, x, y, math.cos(h), math.sin(h), d)

    def theirs() -> None:
        for x, y, h, d, _ in moves[:200]:
            ends = [
                affinity.translate(
                    affinity.rotate(p, h, (0, 0), use_radians=True), x + t * math.cos(h), y + t * math.sin(h)
                )
                for p in body
                for t in (0.0, d)
            ]
            swept = shapely.union_all(
                [shapely.union(ends[2 * k], ends[2 * k + 1]).convex_hull for k in range(len(body))]
            )
            table.covers(swept) and not walls.intersects(swept)

    ours()
    ratio = (best_of(3, theirs) / 200) / (best_of(3, ours) / len(moves))
    return Figure(ratio, "ratio", None, "shapely's time for one leg over the kernel's, both called from Python")


def turns_against_shapely() -> Figure:
    scene = _scenes()[2]
    ground, moves = ground_of(scene), _random_moves(2000)
    walls = shapely.union_all([Polygon(o.outline) for o in scene.obstacles] + [Polygon(scene.target.body)])
    shapely.prepare(walls)
    corners = shapely.get_coordinates(shapely.union_all([Polygon(p) for p in scene.robot.footprint]))

    def ours() -> None:
        for x, y, h, _, by in moves:
            turn_free(ground.out, ground.travel, x, y, h, by)

    def theirs() -> None:
        for x, y, h, _, by in moves[:100]:
            at = h + np.linspace(0, by, int(abs(math.degrees(by))) + 2)
            c, s = np.cos(at)[:, None], np.sin(at)[:, None]
            px, py = x + corners[:, 0] * c - corners[:, 1] * s, y + corners[:, 0] * s + corners[:, 1] * c
            shapely.intersects(walls, shapely.polygons(np.stack([px, py], axis=-1))).any()

    ours()
    ratio = (best_of(3, theirs) / 100) / (best_of(3, ours) / len(moves))
    return Figure(ratio, "ratio", None, "shapely's time for one turn sampled every degree over the exact kernel's")


FIGURES = {
    "motion.search_lattice_cost": lattice_cost_ratio,
    "motion.search_lattice_time": lattice_time_ratio,
    "motion.search_sampling_cost": sampling_cost_ratio,
    "motion.search_sampling_cost_same_time": sampling_cost_ratio_same_time,
    "motion.kernels_legs": legs_against_shapely,
    "motion.kernels_turns": turns_against_shapely,
}
