"""The chance that a course over several targets works: that all of it does, and that each target's part does.

Each errand (:mod:`motion.ground.errands`) is simulated in its own world with the same random numbers, so that they are
the same runs; what a run touches in one errand and how it meets each window are put together afterwards. Every target is
taken to stand where the plan has it: that one was pushed a little short does not move it in the next errand's world.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from motion.chance.counted import RUNS_EACH, Normals, carried, counted, normals
from motion.chance.kernels_walk import CLEAN, NOT_HOME, TOUCHED
from motion.chance.landing import told_on
from motion.chance.montecarlo import HYPOTHESES_STREAM, clean_by_hypothesis, outcome_codes
from motion.course.actions import Action, Success
from motion.ground.clearance import Stage, action_room, ground_of, poses_of
from motion.ground.errands import Errand, errands_of
from motion.scene.records import Noise, Pose, Scene, Window

#: A window that no run misses.
ANY = Window(lateral_mm=1e7, heading_deg=1e4, short_mm=1e7, long_mm=1e7)


def rooms_of(errands: Sequence[Errand], start: Pose, actions: Sequence[Action]) -> list[float]:
    """Least room of each action (mm) to what stands there in its errand.

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, actions = example_scene(), example_course()
    >>> [round(room) for room in rooms_of(errands_of(scene, scene.start, actions), scene.start, actions)]
    [50, 200, 100]
    """
    poses = poses_of(start, actions)
    return [
        action_room(ground_of(errand.world), stage, poses[i], actions[i])[0]
        for errand in errands
        for i, stage in enumerate(errand.stages, errand.first)
    ]


def runs_of_many(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    z: Normals,
    *,
    noise: Noise | None = None,
    rooms: Sequence[float] | None = None,
    told: Sequence[Action] | None = None,
    stop: NDArray[np.int64] | None = None,
) -> NDArray[np.bool_]:
    """Which runs of a noise matrix work (1 + n, runs): in all, then at each of n targets in the course's order.

    A run works at a target when it has touched nothing until the end of its push and meets its window there; in all, when
    it does so at each, touches nothing at all and comes home.

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, actions = example_scene(), example_course()
    >>> runs_of_many(scene, scene.start, actions, normals(len(actions), 1000, seed=0)).sum(axis=1).tolist()
    [1000, 1000]
    """
    told = told_on(scene, start, actions) if told is None else told
    errands = errands_of(scene, start, actions)
    rooms = rooms_of(errands, start, actions) if rooms is None else rooms
    untouched = np.ones(z.shape[1], dtype=bool)
    works, each = untouched.copy(), []
    for errand in errands:
        met, before, after, home = _errand_runs(errand, start, actions, z, noise, rooms, told, stop)
        each.append(untouched & before & met)
        works &= met & home
        untouched &= after
    return np.stack([works & untouched, *each])


def _errand_runs(
    errand: Errand,
    start: Pose,
    actions: Sequence[Action],
    z: Normals,
    noise: Noise | None,
    rooms: Sequence[float],
    told: Sequence[Action],
    stop: NDArray[np.int64] | None,
) -> tuple[NDArray[np.bool_], ...]:
    """Of every run: does it meet the window; untouched to the end of the push, to the errand's end; does it come home."""
    push, after, world = errand.push or 0, errand.after, errand.world
    free = [math.inf] * errand.first
    earlier = [Stage("push", False)] * errand.first
    open_world = replace(world, target=replace(world.target, window=ANY))
    touched, _ = outcome_codes(
        open_world, start, actions[:after], z, noise=noise, detail=True, told=told[:after],
        rooms=[*free, *rooms[errand.first : after]], stages=[*earlier, *errand.stages], stop=stop,
    )  # fmt: skip
    there = [Stage("push", False)] * (push + 1)
    window, _ = outcome_codes(
        world, start, actions[: push + 1], z, noise=noise, told=told[: push + 1],
        rooms=[math.inf] * (push + 1), stages=there, stop=stop,
    )  # fmt: skip
    return window == CLEAN, (touched < TOUCHED) | (touched > TOUCHED + push), touched < TOUCHED, touched != NOT_HOME


def whole_by_hypothesis(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    *,
    each: int = RUNS_EACH,
    told: Sequence[Action] | None = None,
) -> NDArray[np.float64]:
    """As :func:`motion.chance.montecarlo.clean_by_hypothesis`, for a course over one target or several.

    >>> from motion.chance.hypotheses import Hypotheses
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene = replace(example_scene(), hypotheses=Hypotheses(np.zeros((2, 6)), np.zeros((2, 7)), np.full(2, 0.5)))
    >>> whole_by_hypothesis(scene, scene.start, example_course()).tolist()
    [1.0, 1.0]
    """
    if not scene.more_targets:
        return clean_by_hypothesis(scene, start, actions, each=each, told=told)
    assert scene.hypotheses is not None
    count = len(scene.hypotheses.weights)
    works = runs_of_many(scene, start, actions, normals(len(actions), count * each, HYPOTHESES_STREAM), told=told)[0]
    return np.asarray(works.reshape(count, each).mean(axis=1), dtype=float)


def chances_of_many(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    *,
    runs: int = 20_000,
    seed: int = 0,
    rooms: Sequence[float] | None = None,
    told: Sequence[Action] | None = None,
    stop: NDArray[np.int64] | None = None,
) -> tuple[Success, ...]:
    """The chance that all works, then that of each target in the course's order, as :func:`motion.chance.montecarlo.success`.

    Raises
    ------
    MotionError
        ``no_push``, ``not_finite``, ``bad_noise``, ``no_runs``.

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()
    >>> [chance.probability for chance in chances_of_many(scene, scene.start, example_course(), runs=1000)]
    [1.0, 1.0]
    """
    told = told_on(scene, start, actions) if told is None else told
    if rooms is None:
        rooms = rooms_of(errands_of(scene, start, actions), start, actions)
    if scene.hypotheses is not None:
        count = len(scene.hypotheses.weights)
        z = normals(len(actions), count * RUNS_EACH, HYPOTHESES_STREAM)
        works = runs_of_many(scene, start, actions, z, rooms=rooms, told=told, stop=stop)
        chances = works.reshape(len(works), count, RUNS_EACH).mean(axis=2)
        return tuple(carried(scene.hypotheses, row) for row in chances)

    def clean(z: Normals, noise: Noise | None) -> list[int]:
        works = runs_of_many(scene, start, actions, z, noise=noise, rooms=rooms, told=told, stop=stop)
        return [int(k) for k in works.sum(axis=1)]

    return tuple(counted(clean, scene.noise, normals(len(actions), runs, seed)))
