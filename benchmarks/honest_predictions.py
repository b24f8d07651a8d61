"""Do predicted chances come true, and do they grow truer with every run? Judged by a plain simulator of its own.

Robots are made up as a kit may be (spreads and systematic errors unknown to the prediction); half of them are measured
first. Each drives its course; what the prediction says before any run and after ten is set beside what really comes.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from scipy import special

from benchmarks.figures import Figure
from benchmarks.planned_courses import planned
from motion.calibration import fit_spin, fit_straight
from motion.calibration.knowledge import Fits, knowledge_from_fits
from motion.calibration.taken import Taken
from motion.chance.landing import told_on
from motion.chance.learning import learned
from motion.chance.logged import Logged, Miss
from motion.chance.montecarlo import clean_by_hypothesis, success
from motion.course.actions import Success
from tests.oracles.plain_runs import TrueRobot, play

ROBOTS = 12  # a scene
RUNS = 10
#: So many that the luck of the truth itself (0.0065 at most) is no part of an error or of a range that seems to miss.
TRUE_RUNS = 6_000
SPREAD_ROBOTS = 1500


@dataclass(frozen=True)
class Told:
    """What was said of a robot's course and what is true, before any run (first) and after ten.

    ``expected``: by how much the hypotheses themselves expect their chance after ten runs to be off.
    """

    true: float
    first: Success
    later: Success
    seconds: float
    expected: float


def made_up(rng: np.random.Generator) -> TrueRobot:
    """A kit: each spread right up to a factor of about two, each systematic number off as kits are."""
    factor = np.sqrt(4.0 / rng.chisquare(4.0, 6))
    off = rng.standard_normal(7)
    return TrueRobot(
        0.01 * off[0], off[1], off[2], 0.4 * off[3], 0.01 * off[4], off[5], off[6],
        0.004 * factor[0], 3.0 * factor[1], factor[2], factor[3], 0.7 * factor[4], factor[5],
    )  # fmt: skip


def measured(robot: TrueRobot, rng: np.random.Generator) -> tuple[Fits, Taken]:
    """Ten straight runs and ten spins at two sizes, read to the millimetre and the degree."""
    lengths = np.array([500.0] * 5 + [1200.0] * 5)
    noise = rng.standard_normal((3, 10))
    came = lengths * (1 + robot.longer + robot.length_share * noise[0])
    askew = np.radians(robot.askew_sd_deg * noise[1])
    left = came * np.sin(askew + np.radians(robot.curve + robot.curve_sd * noise[2]) * lengths / 2000)
    turns = np.array([90.0] * 5 + [720.0] * 5)
    sd = np.sqrt(robot.turn_deg**2 + robot.turn_more_deg**2 * turns / 90)
    turned = turns * (1 + robot.wider) + robot.overshoot_deg + sd * rng.standard_normal(10)
    came, left, turned = came.round(), left.round(), turned.round()
    taken = Taken(tuple(zip(lengths, came, left, strict=True)), tuple(zip(turns, turned, strict=True)))
    return Fits(fit_straight(lengths, came, sideways_mm=left), fit_spin(turns, turned)), taken


@cache
def _told() -> tuple[Told, ...]:
    found = []
    for number, (_, scene, course) in enumerate(planned("steadiest")):
        for k in range(ROBOTS):
            rng = np.random.default_rng([7, number, k])
            truth = np.random.default_rng([7, number, k, 1])
            found.append(_one(scene, course, made_up(rng), rng, truth, calibrated=k % 2 == 0))
    return tuple(found)


def _one(scene, course, robot, rng, truth, *, calibrated):  # type: ignore[no-untyped-def]
    fits, taken = measured(robot, rng) if calibrated else (Fits(), Taken())
    knowledge, _ = knowledge_from_fits(fits, taken=taken)
    knowledge = replace(knowledge, yaw_reference=scene.noise.yaw_reference)
    typed = robot
    if fits.straight and fits.spin:  # it types its corrected numbers: what is left of its scales is what the fit missed
        typed = replace(
            robot,
            longer=(1 + robot.longer) / fits.straight.scale - 1,
            wider=(1 + robot.wider) / (fits.spin.turn_scale * (1 + knowledge.mean.turn_scale)) - 1,
        )
        knowledge = replace(knowledge, mean=replace(knowledge.mean, turn_scale=0.0))
    plain = replace(scene, noise=replace(knowledge.typical()), systematic=knowledge.mean)
    told = told_on(plain, course.start, course.actions)
    true = float(play(scene, course.start, told, typed, truth, TRUE_RUNS).worked.mean())
    runs = play(scene, course.start, told, typed, rng, RUNS)
    misses, worked, unmeasured = [], 0, 0
    for k in range(RUNS):
        if runs.stopped[k]:
            unmeasured += 1
            worked += bool(runs.worked[k])
        else:
            along, lateral, _ = runs.miss[k] + rng.normal(0, 3, 3)
            misses.append(Miss(round(float(lateral)), round(float(along))))
    logged = Logged(plain, course.start, tuple(course.actions), tuple(misses), told, worked, unmeasured)
    first = success(replace(plain, hypotheses=learned(knowledge, [])), course.start, course.actions, told=told)
    begun = time.process_time()
    after = learned(knowledge, [logged])
    later = success(replace(plain, hypotheses=after), course.start, course.actions, told=told)
    seconds = time.process_time() - begun
    chances = clean_by_hypothesis(replace(plain, hypotheses=after), course.start, course.actions, told=told)
    expected = float(after.weights @ np.abs(chances - after.weights @ chances))
    return Told(true, first, later, seconds, expected)


def _error(which: str) -> float:
    return float(np.mean([abs(getattr(each, which).probability - each.true) for each in _told()]))


def _width(which: str) -> float:
    return float(np.mean([getattr(each, which).high - getattr(each, which).low for each in _told()]))


def _held(which: str) -> float:
    told = _told()
    return float(np.mean([getattr(e, which).low <= e.true <= getattr(e, which).high for e in told]))


def error_after() -> Figure:
    note = f"mean error of the chance, {len(_told())} robots; before any run {_error('first'):.3f}"
    return Figure(_error("later"), "probability", 0.055, note)


def error_beside_expected() -> Figure:
    """Whether the error is no more than ten readings leave open: what the hypotheses expect of it beside what came."""
    errors = np.array([abs(each.later.probability - each.true) for each in _told()])
    expected = float(np.mean([each.expected for each in _told()]))
    luck = errors.std() / len(errors) ** 0.5
    note = f"error {errors.mean():.4f} (luck of the draw {luck:.4f}), expected by the hypotheses {expected:.4f}"
    return Figure(float(errors.mean()) / expected, "of the expected", 1.1, note)


def width_after() -> Figure:
    return Figure(
        _width("later"), "probability", 0.30, f"mean width of the range; before any run {_width('first'):.2f}"
    )


def held_after() -> Figure:
    note = f"share of ranges that hold the truth, wanted 0.92 to 0.97; before any run {_held('first'):.3f}"
    return Figure(abs(_held("later") - 0.945), "from 0.945", 0.025, f"{_held('later'):.3f}: {note}")


def update_time() -> Figure:
    worst = max(each.seconds for each in _told())
    return Figure(
        1000 * worst, "ms", 150.0, "hypotheses and the chance anew after ten runs, worst robot, processor time"
    )


def spreads_known() -> Figure:
    """How often a measured robot's true spread lies outside the 95 % range that its calibrations leave, worst of six."""
    outside = np.zeros(6)
    for k in range(SPREAD_ROBOTS):
        rng = np.random.default_rng([99, k])
        robot = made_up(rng)
        knowledge, _ = knowledge_from_fits(measured(robot, rng)[0])
        true = (
            robot.length_share,
            robot.place_mm,
            robot.askew_sd_deg,
            robot.turn_deg,
            robot.turn_more_deg,
            robot.curve_sd,
        )
        for i, (known, sd) in enumerate(zip(knowledge.spreads, true, strict=True)):
            at = special.chdtr(known.freedom, known.freedom * known.value**2 / sd**2)
            outside[i] += at < 0.025 or at > 0.975
    shares = outside / SPREAD_ROBOTS
    note = "length, place, set-down heading, turn, its growth, curve: " + " ".join(f"{share:.3f}" for share in shares)
    return Figure(float(shares.max()), "of robots", 0.08, note)


FIGURES = {
    "honest.calibration_spreads": spreads_known,
    "honest.prediction_error": error_after,
    "honest.prediction_error_beside_expected": error_beside_expected,
    "honest.prediction_width": width_after,
    "honest.prediction_held": held_after,
    "honest.prediction_update": update_time,
}
