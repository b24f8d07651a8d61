"""Simulated runs: how fast, against plain numpy, and against what this machine needs for the arithmetic alone."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np

from benchmarks.figures import Figure, best_of
from benchmarks.planned_courses import planned
from motion.chance.montecarlo import clean_runs, normals, outcomes, window_runs
from motion.course.actions import Action, Drive, Push, Turn
from motion.scene.records import Noise, Pose, RobotSpec, Scene, Target, Window

RUNS = 100_000
#: Eight actions to the landing: four turns, four moves.
ACTIONS: tuple[Action, ...] = (
    Turn(-60, 30), Drive(500), Turn(50, 80), Drive(400), Turn(-80, 0), Drive(600), Turn(10, 10), Push(90),
)  # fmt: skip
START = Pose(300.0, 300.0, 90.0)


def open_scene() -> Scene:
    """A table with nothing in the way, its target where the course ends."""
    x, y = START.x_mm, START.y_mm
    for heading, distance in ((30, 500), (80, 400), (0, 600)):
        x += distance * math.cos(math.radians(heading))
        y += distance * math.sin(math.radians(heading))
    ring = ((x + 300, y - 30), (x + 360, y - 30), (x + 360, y + 30), (x + 300, y + 30))
    body = ((-50.0, -75.0), (150.0, -75.0), (150.0, 75.0), (-50.0, 75.0))
    robot = RobotSpec((body,), 250, 500, 120, 150, 500, 0.25, 20, 40, 10, 1)
    target = Target(ring, Pose(x, y, 10.0), 30.0, 60.0, Window(22, 5, 20, 30))
    base = ((0.0, 0.0), (600.0, 0.0), (600.0, 600.0), (0.0, 600.0))
    return Scene(2400, 1600, base, START, target, (), robot, Noise(0.01, 3, 1, 1.2, 1.0, 0.004), 3.0)


def plain_numpy(scene: Scene, z: np.ndarray) -> int:
    """The same runs as anybody would write them: whole float32 arrays, one action after the other."""
    noise, f = scene.noise, np.float32
    scale = f(noise.distance_scale_sd) * z[0]
    x = f(START.x_mm) + f(noise.start_position_sd_mm) * z[1]
    y = f(START.y_mm) + f(noise.start_position_sd_mm) * z[2]
    offset = f(math.radians(noise.start_heading_sd_deg)) * z[3]
    theta, told = f(math.radians(START.heading_deg)) + offset, math.radians(START.heading_deg)
    for k, action in enumerate(ACTIONS):
        if isinstance(action, Turn):
            told += math.radians(action.by_deg)
            theta = f(told) + offset + f(math.radians(noise.turn_sd_deg)) * z[4 + 2 * k]
        elif isinstance(action, Drive | Push):
            d = f(action.distance_mm)
            length = d * (f(1) + scale) + f(noise.distance_sd_fraction) * d * z[4 + 2 * k]
            drift = f(math.radians(noise.drift_sd_deg_per_m) / 1000) * d * z[5 + 2 * k]
            middle = theta + f(0.5) * drift
            x = x + length * np.cos(middle)
            y = y + length * np.sin(middle)
            theta = theta + drift
    aim, window = scene.target.precontact, scene.target.window
    c, s = f(math.cos(math.radians(aim.heading_deg))), f(math.sin(math.radians(aim.heading_deg)))
    dx, dy = x - f(aim.x_mm), y - f(aim.y_mm)
    along, lateral = dx * c + dy * s - f(scene.target.push_leg_mm), dy * c - dx * s
    turned = theta - f(math.radians(aim.heading_deg))
    reach = f(scene.robot.footprint[0][1][0])  # the nose meets the target; it is in the middle of the robot
    along, lateral = along + reach * (np.cos(turned) - f(1)), lateral + reach * np.sin(turned)
    return int(
        np.count_nonzero(
            (np.abs(lateral) <= window.lateral_mm)
            & (np.abs(turned) <= math.radians(window.heading_deg))
            & (along >= -window.short_mm)
            & (along <= window.long_mm)
        )
    )


def _kernel() -> tuple[Callable[[], int], Scene, np.ndarray]:
    scene, z = open_scene(), normals(len(ACTIONS), RUNS, 5)
    work = lambda: window_runs(scene, START, ACTIONS, z)  # noqa: E731
    work()
    return work, scene, z


def window_rate() -> Figure:
    """Runs a second to the landing and its window, no collisions, with the noise matrix at hand."""
    work, _, _ = _kernel()
    seconds = best_of(40, work)
    note = (
        f"{RUNS} runs of {len(ACTIONS)} actions in {seconds * 1e3:.2f} ms, one core, warm, random numbers drawn before"
    )
    return Figure(RUNS / seconds / 1e6, "M runs/s", 20.0, note, at_least=True)


def against_numpy() -> Figure:
    """How many times faster than whole-array numpy on the same numbers; both must count the same runs."""
    work, scene, z = _kernel()
    ours, plain = work(), plain_numpy(scene, z)
    if abs(ours - plain) > 5:
        raise AssertionError(f"{ours} against {plain} runs in the window")
    fused, whole = best_of(40, work), best_of(15, lambda: plain_numpy(scene, z))
    note = f"{fused * 1e3:.2f} ms against {whole * 1e3:.1f} ms, float32 both; {ours} and {plain} runs in the window"
    return Figure(whole / fused, "times", None, note, at_least=True)


def against_sines() -> Figure:
    """Our whole simulation against numpy's vectorised sines and cosines of as many angles, nothing else."""
    work, _, z = _kernel()
    angles = np.ascontiguousarray(z[4:8]) * np.float32(0.05)
    out = np.empty_like(angles)

    def sines() -> None:
        np.sin(angles, out=out)
        np.cos(angles, out=out)

    fused, alone = best_of(40, work), best_of(40, sines)
    note = f"{fused * 1e3:.2f} ms for everything, {alone * 1e3:.2f} ms for 4 x {RUNS} float32 sines and cosines by numpy alone"
    return Figure(fused / alone, "times the sines", None, note)


def against_draws() -> Figure:
    """Drawing fresh random numbers against using them: why one matrix serves all candidates."""
    work, _, z = _kernel()
    rng = np.random.default_rng(1)
    rows = 4 + 2 * len(ACTIONS)
    draws = best_of(8, lambda: rng.standard_normal((rows, RUNS), dtype=np.float32))
    fused = best_of(40, work)
    note = f"{draws * 1e3:.1f} ms to draw {rows} x {RUNS} float32 normals, {fused * 1e3:.2f} ms to run them ({z.shape[1]} runs)"
    return Figure(draws / fused, "times the runs", None, note)


def _processor_seconds(times: int, work: Callable[[], object]) -> float:
    """Shortest of several, in this process's own processor time: what others run meanwhile does not count."""
    shortest = math.inf
    for _ in range(times):
        begun = time.process_time()
        work()
        shortest = min(shortest, time.process_time() - begun)
    return shortest


def with_collisions() -> Figure:
    """100,000 runs with every collision and the way home: the slowest of ten scenes and two aims.

    The fastest courses graze and end most runs early; the steadiest let most runs go all the way.
    """
    worst, where, total, few = 0.0, "", [], {"runs": 5_000, "seed": 6}
    tests = {True: 0, False: 0}
    for aim in ("fastest", "steadiest"):
        for name, scene, course in planned(aim):
            z = normals(len(course.actions), RUNS, 6)
            seconds = _processor_seconds(5, lambda s=scene, c=course, z=z: clean_runs(s, c.start, c.actions, z))
            total.append(seconds)
            if seconds > worst:
                worst, where = seconds, f"{name}, {aim}, {len(course.actions)} actions"
            told = {gate: outcomes(scene, course.start, course.actions, **few, gate=gate) for gate in tests}
            if (told[True].clean, told[True].touched) != (told[False].clean, told[False].touched):
                raise AssertionError(f"the gate changes a count on {name}")
            for gate in tests:
                tests[gate] += told[gate].exact_tests
    note = (
        f"processor time of one core, warm; slowest: {where}; mean {1e3 * sum(total) / len(total):.0f} ms; the gate leaves "
        f"{100 * tests[True] / tests[False]:.0f} % of the exact tests and changes no count"
    )
    return Figure(worst, "s", 0.1, note)


FIGURES = {
    "motion.montecarlo_window": window_rate,
    "motion.montecarlo_numpy": against_numpy,
    "motion.montecarlo_sines": against_sines,
    "motion.montecarlo_draws": against_draws,
    "motion.montecarlo_collisions": with_collisions,
}
