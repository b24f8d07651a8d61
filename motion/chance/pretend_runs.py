"""A few of the simulated runs that a chance rests on, each with its whole way and how it ends, to be looked at.

They are picked so that every kind of ending has its share among them: the runs, ordered by how they end, are taken at
even steps of their weight.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from motion.chance.kernels_walk import CLEAN, COMMON, HEADING, LATERAL, LONG, MOVE, NOT_HOME, SHORT, TOUCHED, TURN
from motion.chance.kernels_walk import Program as Packed
from motion.chance.landing import miss, until_landing
from motion.chance.montecarlo import RUNS_EACH, endings
from motion.chance.pace import within_limit
from motion.chance.program import program_of
from motion.course.actions import Action, Drive, Push, Turn
from motion.course.times import course_seconds
from motion.ground.clearance import action_room, ground_of, poses_of, stages_of
from motion.scene.records import Pose, Scene
from motion.units import wrap_deg

#: A touch is found to this share of its action.
HALVINGS = 12


@dataclass(frozen=True)
class PretendRun:
    """One run: the pose at the start and after each action, headings as they were turned through.

    ``ending``: ``"works"``, ``"touches"``, ``"left"`` or ``"right"`` of the window, ``"slanted"``, ``"short"``, ``"far"``,
    ``"outside"`` the base at its end, or ``"late"``. ``action``: the one in which it fails, and ``share`` how much of it
    was done by then; None for a run that works. ``name``: what it touches.
    """

    poses: tuple[Pose, ...]
    ending: str
    action: int | None = None
    share: float = 1.0
    name: str = ""


def pretend_runs(
    scene: Scene, start: Pose, actions: Sequence[Action], *, told: Sequence[Action] | None = None, count: int = 20
) -> tuple[PretendRun, ...]:
    """So many of the runs that ``motion.chance.montecarlo.success`` counts, those that work first.

    Parameters
    ----------
    scene, start, actions, told
        As for ``success``; the course pushes at least once.

    Raises
    ------
    MotionError
        As ``success``.

    Examples
    --------
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> runs = pretend_runs(example_scene(), example_scene().start, example_course(), count=4)
    >>> [run.ending for run in runs], len(runs[0].poses)
    (['works', 'works', 'works', 'works'], 4)
    """
    z, codes = endings(scene, start, actions, told=told)
    program = program_of(scene, start, actions, told=told)
    chosen = _chosen(scene, codes, count)
    ways = walked_ways(program, start, actions, z, chosen)
    runs = [_run(scene, actions, way, int(codes[column])) for way, column in zip(ways, chosen, strict=True)]
    return tuple(_with_late(scene, actions, runs))


def _chosen(scene: Scene, codes: NDArray[np.int16], count: int) -> NDArray[np.int64]:
    """Columns of the noise matrix, by ending and within one in order: robots of all sorts stand for each."""
    order = np.argsort(codes, kind="stable")
    weights = np.full(len(codes), 1.0 / len(codes))
    if scene.hypotheses is not None:
        weights = np.repeat(scene.hypotheses.weights / RUNS_EACH, RUNS_EACH)
    reached = np.cumsum(weights[order])
    at = (np.arange(count) + 0.5) / count * reached[-1]
    return np.asarray(order[np.searchsorted(reached, at).clip(0, len(order) - 1)])


def walked_ways(
    program: Packed, start: Pose, actions: Sequence[Action], z: NDArray[np.float32], columns: NDArray[np.int64]
) -> list[list[Pose]]:
    """Where some of the runs of a noise matrix go, action by action: what the compiled walk does, one run at a time.

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, actions = example_scene(), example_course()
    >>> still = np.zeros((10, 1), dtype=np.float32)
    >>> (way,) = walked_ways(program_of(scene, scene.start, actions), scene.start, actions, still, np.array([0]))
    >>> [round(pose.x_mm, 3) for pose in way]
    [150.0, 1050.0, 1150.0, 150.0]
    """
    exact = poses_of(start, actions)
    hypotheses, runs = program.sd_common.shape[0], z.shape[1]
    ways = []
    for column in columns:
        h, own = int(((int(column) + 1) * hypotheses - 1) // runs), z[:, column].astype(float)
        scale, x, y, e = program.mean_common[h] + program.sd_common[h] * own[:COMMON]
        first = e
        way = [(x, y, e)]
        for k, kind in enumerate(program.kind):
            one = program.mean_one[h, k] + program.sd_one[h, k] * own[COMMON + 2 * k]
            if kind == TURN:
                e = (first if program.absolute else e) + one
            elif kind == MOVE:
                bend = program.mean_two[h, k] + program.sd_two[h, k] * own[COMMON + 2 * k + 1]
                ahead = math.radians(exact[k].heading_deg)
                length = program.value[k] * (1 + scale) + program.sd_one[h, k] * own[COMMON + 2 * k]
                x += length * math.cos(ahead + e + bend / 2) - program.value[k] * math.cos(ahead)
                y += length * math.sin(ahead + e + bend / 2) - program.value[k] * math.sin(ahead)
                e += bend
            way.append((x, y, e))
        ways.append(
            [
                Pose(float(pose.x_mm + dx), float(pose.y_mm + dy), float(pose.heading_deg + math.degrees(de)))
                for pose, (dx, dy, de) in zip(exact, way, strict=True)
            ]
        )
    return ways


def _run(scene: Scene, actions: Sequence[Action], way: list[Pose], code: int) -> PretendRun:
    poses = tuple(way)
    if code == CLEAN:
        return PretendRun(poses, "works")
    if code >= TOUCHED:
        share, name = _touch(scene, actions, way, code - TOUCHED)
        return PretendRun(poses, "touches", code - TOUCHED, share, name)
    if code == NOT_HOME:
        return PretendRun(poses, "outside", len(actions) - 1)
    landing = len(until_landing(actions)) - 1
    aside = "left" if miss(scene, way[landing + 1])[1] > 0 else "right"
    ending = {LATERAL: aside, HEADING: "slanted", SHORT: "short", LONG: "far"}[code]
    return PretendRun(poses, ending, landing)


def _touch(scene: Scene, actions: Sequence[Action], way: list[Pose], k: int) -> tuple[float, str]:
    """How much of the action is done when the body first meets something, and what that is."""
    ground, stage, done = ground_of(scene), stages_of(actions)[k], _done(actions[k], way[k], way[k + 1])
    low, high = 0.0, 1.0
    room, index = action_room(ground, stage, *done(low))
    if room <= 0:
        high = low
    else:
        index = action_room(ground, stage, *done(high))[1]
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            room, nearest = action_room(ground, stage, *done(middle))
            if room <= 0:
                high, index = middle, nearest
            else:
                low = middle
    return high, ground.names[stage.name][index] if index >= 0 else ""


def _done(action: Action, a: Pose, b: Pose) -> Callable[[float], tuple[Pose, Action]]:
    """So much of an action as this run does it: the pose and the part, as ``action_room`` takes them."""
    if isinstance(action, Turn):
        return lambda share: (a, Turn(share * (b.heading_deg - a.heading_deg), 0.0))
    if isinstance(action, Drive | Push):
        length = math.copysign(math.dist((a.x_mm, a.y_mm), (b.x_mm, b.y_mm)), action.distance_mm)
        away = math.degrees(math.atan2((b.y_mm - a.y_mm) * length, (b.x_mm - a.x_mm) * length)) if length else 0.0
        chord = replace(a, heading_deg=a.heading_deg + wrap_deg(away - a.heading_deg) if length else a.heading_deg)
        return lambda share: (chord, Drive(share * length))
    return lambda share: (a, action)


def _with_late(scene: Scene, actions: Sequence[Action], runs: list[PretendRun]) -> list[PretendRun]:
    """Of the runs that work so many come too late as the chance takes off for that."""
    seconds = course_seconds(scene.robot, actions)[0]
    working = [run for run in runs if run.ending == "works"]
    in_time = math.floor(len(working) * within_limit(seconds, scene.time_limit_s, scene.pace) + 0.5)
    late = [replace(run, ending="late", action=len(actions) - 1) for run in working[in_time:]]
    return working[:in_time] + late + [run for run in runs if run.ending != "works"]
