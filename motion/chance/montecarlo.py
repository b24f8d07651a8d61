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

import numpy as np
from numpy.typing import NDArray

from motion.chance.counted import RUNS_EACH, Normals, carried, counted, normals
from motion.chance.kernels import Nominal, Surroundings, count_in_window, run_outcomes
from motion.chance.kernels_walk import (
    CLEAN,
    COMMON,
    HEADING,
    LATERAL,
    LONG,
    NOT_HOME,
    SHORT,
    TOUCHED,
)
from motion.chance.landing import until_landing
from motion.chance.program import program_of
from motion.course.actions import Action, Drive, Push, Success, Tool, Turn
from motion.course.sentences import _
from motion.errors import MotionCode, MotionError
from motion.ground.clearance import Ground, Stage, action_room, ground_of, poses_of, stages_of
from motion.ground.geometry import corners_of
from motion.scene.records import Noise, Pose, Scene

#: The stream that runs of hypotheses come from: the same for all courses of a robot.
HYPOTHESES_STREAM = 31
_STAGES = {"out": 0, "push": 1, "back": 1, "home": 2}


def _frozen(z: Normals) -> Normals:
    """A read-only view: one type, hence one compiled kernel, whoever made the matrix."""
    view = np.ascontiguousarray(z, dtype=np.float32).view()
    view.flags.writeable = False
    return view


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


def outcome_codes(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    z: Normals,
    *,
    noise: Noise | None = None,
    gate: bool = True,
    detail: bool = False,
    rooms: Sequence[float] | None = None,
    told: Sequence[Action] | None = None,
    stages: Sequence[Stage] | None = None,
    stop: NDArray[np.int64] | None = None,
) -> tuple[NDArray[np.int16], int]:
    """Outcome codes of every run, and how many exact tests it took; ``stages`` when they are not those of the actions.

    Once ``stop`` (1,) is not 0 it gives up, and the answer is worth nothing: whoever sets it raises.
    The codes are those of ``motion.chance.kernels_walk``. An action with infinite room is never met by anything; a course
    that is not home by its last stage is not asked to be.

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()
    >>> codes, _ = outcome_codes(scene, scene.start, example_course(), normals(3, 1000, seed=0))
    >>> bool((codes == CLEAN).all())
    True
    """
    program = program_of(scene, start, actions, noise, told=told)
    if z.shape[0] < COMMON + 2 * len(actions):
        raise MotionError(
            MotionCode.SHAPE, _("The noise matrix is for a shorter course; make a larger one."), "noise_matrix"
        )
    ground = ground_of(scene)
    own, stages = stages, stages or stages_of(actions)
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
    onward = own is not None and own[-1].name != "home"
    if not onward and any(isinstance(action, Turn | Drive | Push) for action in actions[until:]):
        home_room = _home_room(ground, poses[-1], lowered) if gate else -math.inf
    nominal = Nominal(
        np.array([(p.x_mm, p.y_mm, math.radians(p.heading_deg)) for p in poses], dtype=float),
        room,
        np.array([_STAGES[s.name] for s in stages], dtype=np.int64),
        np.array([s.lowered for s in stages]),
        home_room,
    )
    around = Surroundings(ground.out, ground.push, ground.home, ground.travel, ground.working, ground.homing(lowered))
    outcome = np.zeros(z.shape[1], dtype=np.int16)
    stop = np.zeros(1, np.int64) if stop is None else stop
    tests = run_outcomes(_frozen(z), program, nominal, around, detail, stop, outcome)
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
    told: Sequence[Action] | None = None,
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
    codes, tests = outcome_codes(scene, start, actions, z, gate=gate, detail=True, told=told)
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
    told: Sequence[Action] | None = None,
    stop: NDArray[np.int64] | None = None,
) -> int:
    """How many of the runs of a noise matrix work; the planner's comparison of candidates, ended by its ``stop``.

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, actions = example_scene(), example_course()
    >>> clean_runs(scene, scene.start, actions, normals(len(actions), 1000, seed=0))
    1000
    """
    codes, _ = outcome_codes(scene, start, actions, z, noise=noise, gate=gate, rooms=rooms, told=told, stop=stop)
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
    told: Sequence[Action] | None = None,
    stop: NDArray[np.int64] | None = None,
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
        3 either way; 2 either way for nominal noise). The interval is then the union of Wilson's at both ends. A scene
        with hypotheses says itself how well its robot is known.
    told
        What the robot is told so that it drives ``actions``; by default what allows for the scene's systematic part, as
        far as whole steps can.
    stop
        (1,), set to something else than 0 by who will raise: simulating ends at once, and the answer is worth nothing.

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
    if rooms is None:
        ground, poses = ground_of(scene), poses_of(start, actions)
        program_of(scene, start, actions, told=told)  # says what is wrong before rooms are measured
        rooms = [action_room(ground, s, p, a)[0] for s, p, a in zip(stages_of(actions), poses, actions, strict=False)]
    if scene.hypotheses is not None:
        return carried(scene.hypotheses, clean_by_hypothesis(scene, start, actions, rooms=rooms, told=told, stop=stop))
    z = normals(len(actions), runs, seed) if noise_matrix is None else noise_matrix

    def clean(part: Normals, noise: Noise | None) -> list[int]:
        return [clean_runs(scene, start, actions, part, noise=noise, rooms=rooms, told=told, stop=stop)]

    return counted(clean, scene.noise, z, spread=spread)[0]


def clean_by_hypothesis(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    *,
    each: int = RUNS_EACH,
    rooms: Sequence[float] | None = None,
    told: Sequence[Action] | None = None,
    stop: NDArray[np.int64] | None = None,
) -> NDArray[np.float64]:
    """The chance that a course works for each of the scene's hypotheses (H,), from so many simulated runs each.

    Two robots, of which the second goes too far by 40 mm in a metre where 30 are allowed.

    >>> from dataclasses import replace
    >>> from motion.chance.hypotheses import Hypotheses
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> known = np.zeros((2, 7))
    >>> known[1, 0] = 0.04
    >>> scene = replace(example_scene(), hypotheses=Hypotheses(np.zeros((2, 6)), known, np.full(2, 0.5)))
    >>> clean_by_hypothesis(scene, scene.start, example_course()).tolist()
    [1.0, 0.0]
    """
    assert scene.hypotheses is not None
    count = len(scene.hypotheses.weights)
    z = normals(len(actions), count * each, HYPOTHESES_STREAM)
    codes, _ = outcome_codes(scene, start, actions, z, rooms=rooms, told=told, stop=stop)
    return np.asarray((codes.reshape(count, each) == CLEAN).mean(axis=1), dtype=float)


def endings(
    scene: Scene, start: Pose, actions: Sequence[Action], *, told: Sequence[Action] | None = None
) -> tuple[Normals, NDArray[np.int16]]:
    """The runs that :func:`success` counts, by default: their normal numbers, and how each ends (its first failure).

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> z, codes = endings(example_scene(), example_scene().start, example_course())
    >>> z.shape[1] == len(codes), set(codes.tolist()) == {CLEAN}
    (True, True)
    """
    runs, seed = 20_000, 0
    if scene.hypotheses is not None:
        runs, seed = len(scene.hypotheses.weights) * RUNS_EACH, HYPOTHESES_STREAM
    z = normals(len(actions), runs, seed)
    codes, _ = outcome_codes(scene, start, actions, z, detail=True, told=told)
    return z, codes


def window_runs(
    scene: Scene, start: Pose, actions: Sequence[Action], z: Normals, *, told: Sequence[Action] | None = None
) -> int:
    """How many runs of a noise matrix meet the window at the end of the push, whatever they touch.

    Called by tests and benchmarks alone, which hold closed forms against it.

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, actions = example_scene(), example_course()
    >>> window_runs(scene, scene.start, actions, normals(len(actions), 1000, seed=0))
    1000
    """
    until = until_landing(actions)
    told = None if told is None else told[: len(until)]
    if z.shape[0] < COMMON + 2 * len(until):
        raise MotionError(
            MotionCode.SHAPE, _("The noise matrix is for a shorter course; make a larger one."), "noise_matrix"
        )
    return int(count_in_window(_frozen(z), program_of(scene, start, until, told=told)))
