"""Calibration and diagnosis: how honest they are about a robot whose ways are known, and what they cost."""

from __future__ import annotations

import math

import numpy as np

from benchmarks.figures import Figure, best_of
from benchmarks.sample_courses import through
from motion.calibration import fit_square, fit_straight, square_return
from motion.calibration.diagnosis import Diagnosis, diagnose
from motion.calibration.knowledge import Fits, knowledge_from_fits
from motion.chance.landing import landing_errors, parameter_jacobian
from motion.chance.logged import Logged, Miss
from motion.course.actions import Push
from motion.scene.records import Noise, Pose, RobotSpec, Scene, Target, Window

SETS = 1_000
START = Pose(120.0, 120.0, 90.0)
READING_SD = (3.0, 3.0, 1.5)


def open_scene() -> Scene:
    """A table with nothing in the way and a robot with ordinary noise."""
    body = ((-50.0, -75.0), (150.0, -75.0), (150.0, 75.0), (-50.0, 75.0))
    robot = RobotSpec((body,), 250, 500, 120, 150, 500, 0.25, 20, 40, 10, 1)
    ring = ((1830.0, 570.0), (1890.0, 570.0), (1890.0, 630.0), (1830.0, 630.0))
    target = Target(ring, Pose(1600.0, 600.0, 0.0), 30.0, 60.0, Window(22, 5, 20, 30))
    base = ((0.0, 0.0), (500.0, 0.0), (500.0, 450.0), (0.0, 450.0))
    return Scene(2400, 1200, base, START, target, (), robot, Noise(0.005, 3, 0.5, 0.8, 1.0, 0.004), 3.0)


COURSE = (*through(START, [(120, 700), (900, 300), (1400, 600), (1600, 600)]), Push(90.0))


def _diagnosed(rng: np.random.Generator, shift: np.ndarray, runs: int) -> Diagnosis:
    scene = open_scene()
    errors = landing_errors(scene, START, COURSE)
    degrees = np.diag([1.0, 1.0, math.degrees(1.0)])
    covariance = degrees @ errors.covariance @ degrees + np.diag(np.square(READING_SD))
    rows = rng.multivariate_normal(shift, covariance, runs)
    misses = tuple(Miss(lateral, along, heading) for along, lateral, heading in rows)
    return diagnose([Logged(scene, START, COURSE, misses)])


def false_claims() -> Figure:
    """How often a cause is claimed when nothing is off."""
    rng = np.random.default_rng(1)
    claims = sum(_diagnosed(rng, np.zeros(3), runs).verdict == "pattern" for runs in (3, 5, 8) for _ in range(SETS))
    return Figure(
        claims / (3 * SETS), "of sets", 0.05, f"{3 * SETS} sets of 3, 5 and 8 runs of a robot that is only noisy"
    )


def causes_found() -> Figure:
    """How often turns that come out 4 degrees too big are named, alone or among causes that look alike."""
    rng = np.random.default_rng(2)
    shift = parameter_jacobian(open_scene(), START, COURSE)[:, 5] * 4.0
    named, alone = 0, 0
    for _ in range(SETS):
        result = _diagnosed(rng, shift, 6)
        named += "turn_bias" in {f.parameter for f in (*result.findings, *result.alternatives)}
        alone += "turn_bias" in {f.parameter for f in result.findings}
    note = f"{SETS} sets of 6 runs; named first in {100 * alone / SETS:.0f} %, else among the alternatives"
    return Figure(named / SETS, "of sets", 0.9, note, at_least=True)


def coverage() -> Figure:
    """How far the share of true scales within twice the stated uncertainty is from 95.45 % (5 straight runs)."""
    rng = np.random.default_rng(3)
    inside = 0
    for _ in range(4 * SETS):
        commanded = rng.choice([300.0, 600.0, 900.0], 5)
        fit = fit_straight(commanded, 0.98 * commanded + rng.normal(0.0, 4.0, 5), reading_mm=0.0)
        inside += abs(fit.scale - 0.98) <= 2.0 * fit.scale_u
    share = inside / (4 * SETS)
    return Figure(
        abs(share - 0.9545), "probability", 0.02, f"{100 * share:.1f} % of {4 * SETS} fits hold the true scale"
    )


def square_converges() -> Figure:
    """What is left of a wheel ratio's error after iterating, where one pass is not exact."""
    ways = [square_return(1000, 120, wheel_ratio=1.004, track_ratio=1.03, clockwise=way) for way in (True, False)]
    pairs = [[way, way] for way in ways]
    one, all_ = fit_square(*pairs, 1000, 120, passes=1), fit_square(*pairs, 1000, 120)
    note = f"one pass is off by {abs(one.wheel_ratio - 1.004):.1e} (ratio 1.004, track 1.03)"
    return Figure(abs(all_.wheel_ratio - 1.004), "ratio", 1e-9, note)


def calibration_time() -> Figure:
    """A straight fit of eight runs, what is known of the robot from it, and a diagnosis of eight misses."""
    rng = np.random.default_rng(4)
    commanded = np.array([600.0] * 8)
    measured = 0.98 * commanded + rng.normal(0.0, 4.0, 8)
    misses = tuple(Miss(*row) for row in rng.normal(0.0, 8.0, (8, 3)))
    scene = open_scene()

    def work() -> None:
        knowledge_from_fits(Fits(straight=fit_straight(commanded, measured)))
        diagnose([Logged(scene, START, COURSE, misses)])

    return Figure(best_of(30, work) * 1e3, "ms", None, "8 runs each")


FIGURES = {
    "motion.diagnosis_false": false_claims,
    "motion.diagnosis_found": causes_found,
    "motion.calibration_coverage": coverage,
    "motion.calibration_square": square_converges,
    "motion.calibration_time": calibration_time,
}
