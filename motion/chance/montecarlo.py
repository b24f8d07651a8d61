"""The chance that a course works, from many simulated runs of a robot with its own noise.

The motion model is that of ``error.py``; a leg's body is swept along its chord with the chord's heading. A run works
when it meets the window at the end of its push, touches nothing on the way (obstacles, keep-outs, edges, the target
save while pushing and backing off) and, if the course goes on after the push, ends wholly inside the base.

All candidates share one matrix of random numbers (common random numbers), so that they differ by what they are and not
by luck. Whoever chooses by one ``seed`` reports by another.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import special

from motion.chance.error import OWN, SCALE, chain_of, miss, until_landing
from motion.chance.intervals import wilson
from motion.chance.kernels import Nominal, Surroundings, count_in_window, run_outcomes
from motion.chance.kernels_walk import (
    CLEAN,
    COMMON,
    HEADING,
    LATERAL,
    LONG,
    MOVE,
    NOT_HOME,
    SHORT,
    TOOL,
    TOUCHED,
    TURN,
    WAIT,
    Program,
)
from motion.course.actions import Action, Drive, Push, Success, Tool, Turn
from motion.errors import MotionCode, MotionError
from motion.ground.clearance import Ground, action_room, ground_of, poses_of, stages_of
from motion.ground.geometry import corners_of
from motion.scene.records import Noise, Pose, Scene

Normals = NDArray[np.float32]

#: A kit's nominal noise is trusted to this factor either way; so is a fit of very few runs at most to the other.
#: Common practice, no source.
NOMINAL_FACTOR = 2.0
LARGEST_FACTOR = 3.0
#: What float32 may get wrong at the edge of a window.
ROUNDING_MM, ROUNDING_RAD = 1e-3, 1e-5
_STAGES = {"out": 0, "push": 1, "back": 1, "home": 2}


def normals(actions: int, runs: int, seed: int) -> Normals:
    """Standard normal numbers for courses of up to ``actions`` actions, shape (4 + 2 n, runs), float32, read-only.

    Courses of different length share their first rows; the last matrices asked for are remembered.

    >>> z = normals(3, 1000, seed=0)
    >>> z.shape[1], bool((z == normals(3, 1000, seed=0)).all()), round(abs(float(z.mean())), 1)
    (1000, True, 0.0)
    """
    if runs < 1:
        raise MotionError(MotionCode.NO_RUNS, "Simulate at least one run.", "runs")
    return _normals(8 * math.ceil(max(actions, 1) / 8), int(runs), int(seed))


@lru_cache(maxsize=4)
def _normals(actions: int, runs: int, seed: int) -> Normals:
    rng = np.random.default_rng(seed)
    matrix = rng.standard_normal((COMMON + 2 * actions, runs), dtype=np.float32)
    matrix.flags.writeable = False
    return matrix


def _frozen(z: Normals) -> Normals:
    """A read-only view: one type, hence one compiled kernel, whoever made the matrix."""
    view = np.ascontiguousarray(z, dtype=np.float32).view()
    view.flags.writeable = False
    return view


def program_of(scene: Scene, start: Pose, actions: Sequence[Action], noise: Noise | None = None) -> Program:
    """Pack a course and a noise (the scene's own when None).

    Raises
    ------
    MotionError
        ``no_push``, ``not_finite``, ``bad_noise``.
    """
    noise = scene.noise if noise is None else noise
    until = until_landing(actions)
    chain = chain_of(start, actions, noise)
    poses = poses_of(start, actions)
    headings = np.radians([pose.heading_deg for pose in poses[:-1]])
    kinds: list[int] = []
    values: list[float] = []
    for action in actions:
        if isinstance(action, Turn):
            kinds.append(TURN)
            values.append(math.radians(action.by_deg))
        elif isinstance(action, Tool):
            kinds.append(WAIT if action.name == "wait" else TOOL)
            values.append(0.0)
        else:
            kinds.append(MOVE)
            values.append(action.distance_mm)
    sd = chain.sd.astype(np.float32)
    along, lateral, heading = miss(scene, poses[len(until)])
    push = math.radians(scene.target.precontact.heading_deg)
    window = scene.target.window
    # all heading errors of the run together, at six of their standard deviations
    widest = 6.0 * float(np.sqrt(np.sum(chain.sd[OWN + 1 :: 2] ** 2) + _turn_variance(chain.sd, kinds, noise)))
    return Program(
        np.array(kinds, dtype=np.int64),
        np.array(values, dtype=np.float32),
        np.cos(headings).astype(np.float32),
        np.sin(headings).astype(np.float32),
        sd[[SCALE, 1, 2, 3]],
        np.ascontiguousarray(sd[OWN::2]),
        np.ascontiguousarray(sd[OWN + 1 :: 2]),
        noise.yaw_reference == "absolute",
        len(until) - 1,
        np.array([math.cos(push), math.sin(push), along, lateral, math.radians(heading)], dtype=np.float32),
        np.array(
            [
                window.lateral_mm + ROUNDING_MM,
                math.radians(window.heading_deg) + ROUNDING_RAD,
                window.short_mm + ROUNDING_MM,
                window.long_mm + ROUNDING_MM,
            ],
            dtype=np.float32,
        ),
        widest > 3.0,
    )


def _turn_variance(sd: NDArray[np.float64], kinds: list[int], noise: Noise) -> float:
    turns = sd[OWN::2][np.array(kinds, dtype=np.int64) == TURN] if kinds else np.zeros(0)
    return float(sd[3] ** 2 + np.sum(turns**2))


@dataclass(frozen=True)
class Outcomes:
    """What became of simulated runs, each counted once by its first failure in time.

    ``touched`` counts per action; ``exact_tests`` is how many swept tests the clearance gate left to do.
    """

    runs: int
    clean: int
    missed_lateral: int
    missed_heading: int
    short: int
    long: int
    not_home: int
    touched: tuple[int, ...]
    exact_tests: int


def _simulated(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    z: Normals,
    *,
    noise: Noise | None = None,
    gate: bool = True,
    detail: bool = False,
    rooms: Sequence[float] | None = None,
) -> tuple[NDArray[np.int16], int]:
    """Outcome codes of every run, and how many exact tests it took."""
    program = program_of(scene, start, actions, noise)
    if z.shape[0] < COMMON + 2 * len(actions):
        raise MotionError(
            MotionCode.SHAPE, "The noise matrix is for a shorter course; make a larger one.", "noise_matrix"
        )
    ground = ground_of(scene)
    stages = stages_of(actions)
    poses = poses_of(start, actions)
    if not gate:
        room = np.full(len(actions), -math.inf)
    elif rooms is not None:
        room = np.asarray(rooms, dtype=float)
    else:
        room = np.array([action_room(ground, s, p, a)[0] for s, p, a in zip(stages, poses, actions, strict=False)])
    until = len(until_landing(actions))
    lowered = False
    for action in actions:
        if isinstance(action, Tool):
            lowered = {"lower": True, "raise": False}.get(action.name, lowered)
    home_room = math.inf
    if any(isinstance(action, Turn | Drive | Push) for action in actions[until:]):
        home_room = _home_room(ground, poses[-1], lowered) if gate else -math.inf
    nominal = Nominal(
        np.array([(p.x_mm, p.y_mm, math.radians(p.heading_deg)) for p in poses], dtype=float),
        room,
        np.array([_STAGES[s.name] for s in stages], dtype=np.int64),
        np.array([s.lowered for s in stages]),
        home_room,
    )
    around = Surroundings(ground.out, ground.push, ground.home, ground.travel, ground.working, ground.homing(lowered))
    outcome = np.empty(z.shape[1], dtype=np.int16)
    tests = run_outcomes(_frozen(z), program, nominal, around, detail, outcome)
    return outcome, int(tests)


def _home_room(ground: Ground, pose: Pose, lowered: bool) -> float:
    """How far inside a convex base the body stands; -inf for other bases, which are always tested exactly."""
    if not ground.base_convex:
        return -math.inf
    body = ground.body(lowered)
    h = math.radians(pose.heading_deg)
    turned = corners_of(body.sides) @ np.array([[math.cos(h), math.sin(h)], [-math.sin(h), math.cos(h)]])
    corners = turned + (pose.x_mm, pose.y_mm)
    sides = ground.base
    normals = np.stack([sides["nx"], sides["ny"]], axis=1)
    return float((sides["support"][:, None] - normals @ corners.T).min())


def outcomes(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    *,
    runs: int = 20_000,
    seed: int = 0,
    noise_matrix: Normals | None = None,
    gate: bool = True,
) -> Outcomes:
    """What becomes of simulated runs, each by its first failure.

    ``gate`` False tests every action of every run exactly; the counts are the same.

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()
    >>> seen = outcomes(scene, scene.start, example_course(), runs=1000)
    >>> seen.clean, seen.missed_lateral, seen.touched
    (1000, 0, (0, 0, 0))
    """
    z = normals(len(actions), runs, seed) if noise_matrix is None else noise_matrix
    codes, tests = _simulated(scene, start, actions, z, gate=gate, detail=True)
    counts = [int(count) for count in np.bincount(codes, minlength=TOUCHED + len(actions))]
    return Outcomes(
        runs=len(codes),
        clean=counts[CLEAN],
        missed_lateral=counts[LATERAL],
        missed_heading=counts[HEADING],
        short=counts[SHORT],
        long=counts[LONG],
        not_home=counts[NOT_HOME],
        touched=tuple(counts[TOUCHED:]),
        exact_tests=tests,
    )


def clean_runs(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    z: Normals,
    *,
    noise: Noise | None = None,
    gate: bool = True,
    rooms: Sequence[float] | None = None,
) -> int:
    """How many of the runs of a noise matrix work; the planner's comparison of candidates.

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, actions = example_scene(), example_course()
    >>> clean_runs(scene, scene.start, actions, normals(len(actions), 1000, seed=0))
    1000
    """
    codes, _ = _simulated(scene, start, actions, z, noise=noise, gate=gate, rooms=rooms)
    return int(np.count_nonzero(codes == CLEAN))


def success(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    *,
    runs: int = 20_000,
    seed: int = 0,
    noise_matrix: Normals | None = None,
    rooms: Sequence[float] | None = None,
    spread: bool = True,
) -> Success:
    """The chance that a course works.

    Parameters
    ----------
    scene, start, actions
        The course, pushing at least once.
    runs, seed
        How many runs, and of which stream.
    noise_matrix
        Shape (4 + 2 n or more, runs), float32, standard normal; in place of ``runs`` and ``seed``.
    rooms
        Least room of each action (mm) if already known (``clearance.action_room``).
    spread
        Whether the interval also covers that the robot's noise itself is only known from ``noise.runs`` runs: a
        standard deviation from n runs is right up to a factor sqrt(v / chi2) with v = n - 1 (its 95 % range, at most
        3 either way; 2 either way for nominal noise). The interval is then the union of Wilson's at both ends.

    Returns
    -------
    Success
        ``probability`` is clean runs over all runs at the noise as given; ``runs`` how many were simulated.

    Raises
    ------
    MotionError
        ``no_push``, ``not_finite``, ``bad_noise``, ``no_runs``, ``shape``.

    Examples
    --------
    A robot that is set down within 3 mm meets a window of 3 mm to either side in about two runs of three.

    >>> from dataclasses import replace
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()
    >>> narrow = replace(scene.target.window, lateral_mm=3)
    >>> scene = replace(scene, target=replace(scene.target, window=narrow))
    >>> round(success(scene, scene.start, example_course()).probability, 1)
    0.7
    """
    z = normals(len(actions), runs, seed) if noise_matrix is None else noise_matrix
    if rooms is None:
        ground, poses = ground_of(scene), poses_of(start, actions)
        program_of(scene, start, actions)  # says what is wrong before rooms are measured
        rooms = [action_room(ground, s, p, a)[0] for s, p, a in zip(stages_of(actions), poses, actions, strict=False)]
    total = z.shape[1]
    clean = clean_runs(scene, start, actions, z, rooms=rooms)
    low, high = wilson(clean, total)
    if spread:
        part = np.ascontiguousarray(z[:, : max(1, total // 4)])
        for factor in noise_range(scene.noise.runs):
            k = clean_runs(scene, start, actions, part, noise=scaled_noise(scene.noise, factor), rooms=rooms)
            other = wilson(k, part.shape[1])
            low, high = min(low, other.low), max(high, other.high)
    return Success(clean / total, low, high, total)


def noise_range(runs: int | None) -> tuple[float, float]:
    """Factors by which a standard deviation from so many runs may be too large or too small (95 %).

    >>> [round(f, 2) for f in noise_range(10)]
    [0.69, 1.83]
    """
    if runs is None:
        return 1.0 / NOMINAL_FACTOR, NOMINAL_FACTOR
    free = max(runs - 1, 1)
    low = math.sqrt(free / float(special.chdtri(free, 0.025)))
    high = math.sqrt(free / float(special.chdtri(free, 0.975)))
    return max(low, 1.0 / LARGEST_FACTOR), min(high, LARGEST_FACTOR)


def scaled_noise(noise: Noise, factor: float) -> Noise:
    """The noise with every spread multiplied.

    >>> scaled_noise(Noise(0.01, 3, 1, 1.5, 1, 0.5), 2).turn_sd_deg
    3.0
    """
    return Noise(
        noise.distance_scale_sd * factor,
        noise.start_position_sd_mm * factor,
        noise.start_heading_sd_deg * factor,
        noise.turn_sd_deg * factor,
        noise.drift_sd_deg_per_m * factor,
        noise.distance_sd_fraction * factor,
        noise.yaw_reference,
        noise.runs,
    )


def window_runs(scene: Scene, start: Pose, actions: Sequence[Action], z: Normals) -> int:
    """How many runs of a noise matrix meet the window at the end of the push, whatever they touch.

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, actions = example_scene(), example_course()
    >>> window_runs(scene, scene.start, actions, normals(len(actions), 1000, seed=0))
    1000
    """
    until = until_landing(actions)
    if z.shape[0] < COMMON + 2 * len(until):
        raise MotionError(
            MotionCode.SHAPE, "The noise matrix is for a shorter course; make a larger one.", "noise_matrix"
        )
    return int(count_in_window(_frozen(z), program_of(scene, start, until)))
