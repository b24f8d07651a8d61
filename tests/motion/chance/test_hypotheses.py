"""How well a robot is known: what calibrations say alone, and what measured runs add, by hand where that can be."""

from __future__ import annotations

import math
from dataclasses import astuple, replace

import numpy as np
import pytest

from benchmarks.sample_courses import through
from motion.chance.hypotheses import SPREADS, Hypotheses, Knowledge, KnownSpread, drawn, noise_of, pooled
from motion.chance.landing import told_on
from motion.chance.logged import Logged, Miss
from motion.chance.simulate import Manner, simulate_run
from motion.course.actions import Drive, Push, Turn
from motion.scene.records import Noise, Pose, Systematic
from tests.motion.scenes import plain_scene

DRIFT = 6  # its column among the systematic numbers
SURELY = Systematic()
START = Pose(120, 120, 90)
COURSE = (*through(START, [(120, 700), (900, 300), (1400, 600), (1600, 600)]), Push(90))
VALUES = (0.004, 3.0, 0.5, 0.8, 0.3, 1.0)
KNOWN = Knowledge(
    spreads=tuple(KnownSpread(value, 40.0) for value in VALUES),
    mean=Systematic(0.01, turn_bias_deg=0.5),
    u=Systematic(0.005, 1.0, 1.0, 0.3, 0.005, 0.4, 3.0),
)


def only(**spreads):
    """A robot with these spreads alone, known exactly unless told with how much freedom."""
    given = {name: size if isinstance(size, KnownSpread) else KnownSpread(size, 1e9) for name, size in spreads.items()}
    return tuple(given.get(name, KnownSpread(0.0, 1e9)) for name in SPREADS)


# What calibrations say


def test_without_runs_the_spreads_are_those_of_the_calibrations_on_average():
    """A scaled inverse chi-squared of v degrees of freedom about s squared has the mean v / (v - 2) s squared: 40 / 38."""
    robots = drawn(KNOWN)
    assert np.mean(robots.spreads**2, axis=0) == pytest.approx(np.square(VALUES) * 40 / 38, rel=0.01)
    assert (robots.spreads > 0).all()
    typical = robots.noise("relative")
    assert [getattr(typical, name) for name in SPREADS] == pytest.approx(
        np.array(VALUES) * math.sqrt(40 / 38), rel=0.01
    )


def test_without_runs_the_systematic_numbers_are_as_sure_as_the_calibrations():
    robots = drawn(KNOWN)
    assert robots.systematic.mean(axis=0) == pytest.approx(astuple(KNOWN.mean), abs=1e-3)
    assert robots.systematic.std(axis=0) == pytest.approx(astuple(KNOWN.u), rel=0.02)
    assert robots.expected().turn_bias_deg == pytest.approx(0.5, abs=1e-3)


def test_a_spread_of_little_freedom_is_spread_widely_and_one_of_much_hardly():
    def range_of(freedom):
        spreads = drawn(replace(KNOWN, spreads=(KnownSpread(1.0, freedom),) * 6)).spreads[:, 0]
        return tuple(np.quantile(spreads, [0.025, 0.975]))

    # chi-squared with 9 degrees of freedom: 2.700 and 19.023 (from any table)
    assert range_of(9) == pytest.approx((math.sqrt(9 / 19.023), math.sqrt(9 / 2.700)), rel=0.03)
    assert range_of(1e9) == pytest.approx((1, 1), abs=1e-3)


def test_the_same_input_gives_the_same_robots_and_another_seed_others():
    runs = [Logged(plain_scene(), START, COURSE, (Miss(5.0, 3.0, 1.0),) * 4)]
    assert repr(drawn(KNOWN, runs)) == repr(drawn(KNOWN, runs))
    assert repr(drawn(KNOWN, runs)) != repr(drawn(KNOWN, runs, seed=1))
    assert repr(drawn(KNOWN, runs)) != repr(drawn(KNOWN))


def test_weights_sum_to_one_whatever_was_logged():
    for misses in ((), (Miss(),), (Miss(12.0),), (Miss(40.0, -30.0, 6.0),) * 40):
        robots = drawn(KNOWN, [Logged(plain_scene(), START, COURSE, misses)], count=100)
        assert robots.weights.shape == (100,) and (robots.weights >= 0).all()
        assert robots.weights.sum() == pytest.approx(1.0)


# What runs add


def test_a_curve_is_learned_as_by_hand_from_misses_to_the_side():
    """Straight on for 600 and 90 mm, the nose 200 mm ahead; a degree a metre moves it by 6.5633 mm to the left.

    The scatter of the curve, 1 degree a metre in each leg: 0.6 degrees times 300 + 90 + 200 mm and 0.09 degrees times
    45 + 200 mm are 6.1785 and 0.3848 mm; with a reading of 3 mm the variance is 47.322. Known before: 0 +- 2. Forty runs
    20 mm to the left: a precision of 1 / 4 + 40 * 6.5633 ** 2 / 47.322 = 36.662 about 40 * 6.5633 * 20 / 47.322 / 36.662.
    """
    knowledge = Knowledge(only(drift_sd_deg_per_m=1.0), SURELY, Systematic(drift_deg_per_m=2.0))
    runs = Logged(plain_scene(), Pose(1000, 600, 0), (Drive(600), Push(90)), (Miss(lateral_mm=20.0),) * 40)
    robots = drawn(knowledge, [runs])
    assert robots.expected().drift_deg_per_m == pytest.approx(3.0264, abs=0.002)
    assert robots.systematic[:, DRIFT].std() == pytest.approx(36.662**-0.5, rel=0.02)
    assert astuple(robots.expected())[:DRIFT] == pytest.approx((0,) * DRIFT, abs=1e-6)


def test_a_spread_is_learned_as_by_hand_from_how_misses_scatter():
    """A turn of 1 degree, from 6 degrees of freedom, and forty misses as of 2 degrees.

    Together (6 * 1 + 40 * 4) / 46 = 3.609 from 46 degrees of freedom, on average 46 / 44 of that: 3.773; less the
    reading, 3 mm of the 15.5334 that a degree makes at the nose, in forty of 46 parts: about 0.03.
    """
    knowledge = Knowledge(only(turn_sd_deg=KnownSpread(1.0, 6.0)), SURELY, SURELY)
    course = (Turn(90, 0), Drive(600), Push(90))
    misses = tuple(Miss(lateral_mm=side * 2 * 15.5334) for side in (1, -1)) * 20
    robots = drawn(knowledge, [Logged(plain_scene(), Pose(1000, 600, -90), course, misses)], count=2000)
    assert robots.noise("absolute").turn_sd_deg == pytest.approx(math.sqrt(3.773 - 0.03), rel=0.02)
    assert robots.noise("absolute").drift_sd_deg_per_m == 0.0


def made_up(scene, course, manner, count, told=None):
    """Runs of the slow simulation, read with a ruler."""
    rng, misses = np.random.default_rng(8), []
    for _ in range(count):
        run = simulate_run(scene, START, told or course, manner, scene.noise, rng)
        along, lateral, heading = rng.normal((run.along_mm, run.lateral_mm, run.heading_error_deg), (3, 3, 1.5))
        misses.append(Miss(lateral, along, heading))
    return Logged(scene, START, course, tuple(misses), told)


@pytest.mark.parametrize("reference", ["absolute", "relative"])
def test_forty_runs_of_a_robot_that_curves_say_so(reference):
    knowledge = replace(KNOWN, mean=SURELY, yaw_reference=reference)
    scene = plain_scene(noise=noise_of(VALUES, reference))
    robots = drawn(knowledge, [made_up(scene, COURSE, Manner(drift_deg_per_m=4.0), 40)])
    drift = robots.systematic[:, DRIFT]
    sd = math.sqrt(robots.weights @ (drift - robots.expected().drift_deg_per_m) ** 2)
    assert sd < 1.2, "it was 3 before"
    assert robots.expected().drift_deg_per_m == pytest.approx(4.0, abs=2 * sd)
    assert robots.expected().drift_deg_per_m > 2.5
    assert abs(robots.expected().turn_bias_deg) < 1.0


@pytest.mark.parametrize("reference", ["absolute", "relative"])
def test_runs_that_were_told_for_a_known_curve_do_not_say_that_there_is_none(reference):
    known = Systematic(drift_deg_per_m=4.0)
    scene = plain_scene(noise=noise_of(VALUES, reference), systematic=known)
    told = told_on(scene, START, COURSE)
    runs = made_up(scene, COURSE, Manner(drift_deg_per_m=4.0), 40, told)
    for mean in (known, SURELY):
        robots = drawn(replace(KNOWN, mean=mean, yaw_reference=reference), [runs])
        assert robots.expected().drift_deg_per_m == pytest.approx(4.0, abs=1.0)


def test_two_courses_tell_more_than_one():
    knowledge, scene = replace(KNOWN, mean=SURELY), plain_scene(noise=noise_of(VALUES, "absolute"))
    straight = (Turn(-90, 0), Drive(1480), Turn(90, 90), Drive(480), Turn(-90, 0), Push(90))
    one, two = (made_up(scene, course, Manner(), 10) for course in (COURSE, straight))
    alone, both = drawn(knowledge, [one]), drawn(knowledge, [one, two])
    assert (both.systematic.std(axis=0) <= alone.systematic.std(axis=0) * 1.02).all()
    assert both.systematic[:, 0].std() < 0.9 * alone.systematic[:, 0].std()


def test_a_slip_is_set_aside():
    ordinary = (Miss(5.0, 3.0, 1.0), Miss(-8.0, 2.0, -0.5), Miss(12.0))
    slip = Miss(600.0, 3.0, 1.0)

    def after(*misses):
        return repr(drawn(KNOWN, [Logged(plain_scene(), START, COURSE, misses)]))

    assert after(*ordinary, slip) == after(*ordinary)
    assert after(slip) == repr(drawn(KNOWN))
    assert after(*ordinary, Miss(40.0, 3.0, 1.0)) != after(*ordinary), "what may well be scatter is not"


def test_runs_without_a_measured_miss_say_nothing_here():
    runs = [Logged(plain_scene(), START, COURSE, (Miss(),) * 5, worked=3, unmeasured=5)]
    assert repr(drawn(KNOWN, runs)) == repr(drawn(KNOWN))


# Weights


def four(weights):
    spreads = np.arange(24.0).reshape(4, 6)
    return Hypotheses(spreads, np.arange(28.0).reshape(4, 7), np.array(weights, dtype=float))


def test_typical_spreads_and_expected_numbers_are_weighted_by_hand():
    robots = four([0.5, 0, 0, 0.5])
    # spreads 0 and 18, 1 and 19, ...: the root of half the sum of their squares
    assert robots.noise("relative") == Noise(
        distance_scale_sd=0.0,
        start_position_sd_mm=pytest.approx(math.sqrt((1 + 361) / 2)),
        start_heading_sd_deg=pytest.approx(math.sqrt((4 + 400) / 2)),
        turn_sd_deg=pytest.approx(math.sqrt((9 + 441) / 2)),
        drift_sd_deg_per_m=pytest.approx(math.sqrt((25 + 529) / 2)),
        distance_sd_fraction=pytest.approx(math.sqrt(324 / 2)),
        yaw_reference="relative",
        turn_growth_sd_deg=pytest.approx(math.sqrt((16 + 484) / 2)),
    )
    assert astuple(robots.expected()) == pytest.approx([10.5 + k for k in range(7)])


def test_a_likelihood_multiplies_the_weights():
    robots = four([0.1, 0.2, 0.3, 0.4]).weighted(np.log([4, 2, 0.5, 0.25]) - 5000)
    assert robots.weights == pytest.approx(np.array([0.4, 0.4, 0.15, 0.1]) / 1.05)
    assert four([0, 0.5, 0.5, 0]).weighted(np.zeros(4)).weights == pytest.approx([0, 0.5, 0.5, 0])


@pytest.mark.parametrize(
    ("weights", "count", "kept"),
    [
        ([0.5, 0.25, 0.25, 0], 4, [0, 0, 1, 2]),
        ([0, 0, 1, 0], 3, [2, 2, 2]),
        ([0.25] * 4, 4, [0, 1, 2, 3]),
        ([0.25] * 4, 2, [0, 2]),  # at a quarter and at three quarters of the weight
        ([0.1, 0.2, 0.3, 0.4], 10, [0, 1, 1, 2, 2, 2, 3, 3, 3, 3]),
    ],
)
def test_thinned_robots_are_alike_in_weight_and_as_many_of_each_as_it_weighed(weights, count, kept):
    robots = four(weights)
    few = robots.thinned(count)
    assert few.weights == pytest.approx(np.full(count, 1 / count))
    assert few.systematic[:, 0].tolist() == [7.0 * k for k in kept]
    assert few.spreads[:, 0].tolist() == [6.0 * k for k in kept]


@pytest.mark.parametrize(
    ("measured", "freedom", "nominal", "value"),
    [
        (2.0, 4, 1.0, math.sqrt((4 * 4 + 4 * 1) / 8)),
        (2.0, 0, 1.0, 1.0),  # nothing measured: the kit's number
        (2.0, 36, 1.0, math.sqrt((36 * 4 + 4 * 1) / 40)),
        (1.0, 10, 1.0, 1.0),
    ],
)
def test_a_measured_spread_is_pooled_with_the_kits_as_if_that_had_four_degrees_of_freedom(
    measured, freedom, nominal, value
):
    assert pooled(measured, freedom, nominal) == (pytest.approx(value), freedom + 4)


def test_the_typical_noise_of_what_calibrations_say_is_each_spread_at_its_value():
    assert KNOWN.typical() == Noise(0.0, 3.0, 0.5, 0.8, 1.0, 0.004, "absolute", turn_growth_sd_deg=0.3)
