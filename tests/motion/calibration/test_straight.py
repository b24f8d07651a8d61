"""Straight runs."""

import doctest
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.calibration import straight as calibration_straight
from motion.calibration.straight import fit_straight
from motion.calibration.variances import widened
from motion.chance.least_squares import through_origin
from motion.errors import FitError
from tests.oracles.measuring import Played, straight_runs
from tests.published import published


def test_a_robot_that_stops_short_types_more():
    fit = fit_straight([600, 600, 900, 900], [588, 588, 882, 882])
    assert fit.scale == pytest.approx(0.98)
    assert fit.to_type(490.0) == pytest.approx(500.0)
    assert fit.wheel_diameter(56.0) == pytest.approx(54.88)
    assert fit.runs == 4


def test_the_solver_beneath_meets_nists_uncertainty():
    case = published("least_squares", "NoInt1")
    fit = through_origin(case.given["x"], case.given["y"])
    assert fit.values[0] == case["slope"]
    assert fit.residual_sd == case["residual_sd"]
    assert fit.uncertainties[0] == case["slope_u"]


def test_runs_of_one_distance_count_alike():
    fit = fit_straight([600] * 4, [588, 592, 590, 594], reading_mm=0.0)
    assert fit.scale == pytest.approx(591 / 600)
    assert fit.fraction_sd == pytest.approx(np.std([588, 592, 590, 594], ddof=1) / 600, rel=1e-6)
    assert fit.scale_u == pytest.approx(fit.fraction_sd / 2 * widened(3), rel=1e-6)


def test_where_the_scatter_grows_with_the_distance_the_scale_is_the_mean_of_the_ratios():
    fit = fit_straight([300, 2000], [297, 1940], reading_mm=0.0)
    assert fit.scale == pytest.approx((0.99 + 0.97) / 2, rel=1e-6)


def test_runs_that_agree_to_the_tapes_step_are_still_uncertain():
    fit = fit_straight([600] * 3, [612] * 3)
    assert fit.residual_sd_mm == pytest.approx(0.0, abs=1e-9)
    step = 1 / math.sqrt(12) / 600  # once for the reading, once for the scatter that it may hide
    assert fit.scale_u == pytest.approx(math.sqrt(2) * step / math.sqrt(3) * widened(2))
    assert fit.fraction_sd == pytest.approx(step)


def test_a_wild_run_is_flagged_and_kept():
    commanded = [600.0] * 6
    measured = [590, 592, 589, 591, 590, 700]
    fit = fit_straight(commanded, measured)
    assert fit.outliers == (5,)
    assert fit.scale == pytest.approx(np.mean(measured) / 600)


def test_repeatability_is_iso_9283s_about_each_distances_own_mean():
    fit = fit_straight([600, 600, 300, 300], [590, 594, 300, 296])
    # each run is 2 mm from its mean: mean l 2, S 0 (ISO 9283:1998 RP = mean + 3 S)
    assert fit.repeatability_mm == pytest.approx(2.0)


def test_sideways_misses_give_the_drift_per_metre():
    # an even curve of 2 deg per metre misses a 1 m run by rate d^2 / 2
    miss = math.radians(2.0) / 1000 * 1000**2 / 2
    fit = fit_straight([1000, 1000, -1000], [1001, 999, -1000], sideways_mm=[miss, miss, miss])
    assert fit.drift_deg_per_m == pytest.approx(2.0)
    assert fit.drift_sd_deg_per_m == pytest.approx(0.0, abs=1e-9)
    assert fit_straight([1000, 1000], [1001, 999]).drift_deg_per_m is None


@given(st.floats(0.8, 1.2), st.integers(3, 12), st.integers(0, 2**31))
def test_units_do_not_matter(scale, n, seed):
    rng = np.random.default_rng(seed)
    commanded = rng.uniform(200, 1500, n)
    measured = commanded * scale + rng.normal(0, 3, n)
    mm, tenth = fit_straight(commanded, measured), fit_straight(commanded / 10, measured / 10, reading_mm=0.1)
    assert mm.scale == pytest.approx(tenth.scale)
    assert mm.scale_u == pytest.approx(tenth.scale_u)
    assert mm.fraction_sd == pytest.approx(tenth.fraction_sd)


@pytest.mark.parametrize("fraction", [0.0005, 0.004, 0.015])
@pytest.mark.parametrize("runs", [3, 5, 8])
def test_a_true_scale_lies_within_twice_the_stated_uncertainty_as_often_as_said(fraction, runs):
    rng = np.random.default_rng(11)
    robot, missed = Played(fraction_sd=fraction), 0
    for _ in range(600):
        told = [float(each) for each in rng.choice([300, 600, 1200, 2000], runs)]
        fit = fit_straight(told, [length for length, _ in straight_runs(robot, told, rng)])
        missed += abs(fit.scale - robot.scale) > 2 * fit.scale_u
    assert missed / 600 < 0.045 + 3 * math.sqrt(0.045 * 0.955 / 600)


def test_an_old_records_uncertainty_is_compared_as_it_was_stated():
    fit = fit_straight([600] * 5, [588, 592, 590, 594, 591])
    assert fit.compared()[0].value_u == pytest.approx(fit.scale_u / widened(4))
    assert replace(fit, scale_free=None).compared()[0].value_u == fit.scale_u


# To the side


def mean_spreads(robot, told, fits, **how):
    rng = np.random.default_rng(7)
    found = []
    for _ in range(fits):
        lengths, sideways = zip(*straight_runs(robot, told, rng), strict=True)
        found.append(fit_straight(told, lengths, sideways_mm=sideways, **how))
    return found


def test_two_distances_tell_a_curve_from_a_robot_that_was_set_down_askew():
    robot = Played(drift_deg_per_m=3.0, drift_sd_deg_per_m=0.3, set_down_deg=2.0, set_down_sd_deg=0.3)
    fits = mean_spreads(robot, [500.0] * 5 + [1500.0] * 5, 60)
    assert np.mean([fit.drift_deg_per_m for fit in fits]) == pytest.approx(3.0, abs=0.15)
    assert np.mean([fit.start_heading_deg for fit in fits]) == pytest.approx(2.0, abs=0.1)
    off = [abs(fit.drift_deg_per_m - 3.0 * robot.scale**2) > 2 * fit.drift_u_deg_per_m for fit in fits]
    assert np.mean(off) < 0.2
    assert all(fit.drift_alone and fit.start_heading_from == "runs" for fit in fits)


def test_backing_up_along_a_curve_strays_to_the_same_side_as_driving():
    miss = math.radians(2.0) / 1000 * 1000**2 / 2
    askew = math.radians(1.0) * 1000
    told = [1000, -1000, 500, -500, 2000, -2000]
    sideways = [miss * (d / 1000) ** 2 + askew * d / 1000 for d in told]
    fit = fit_straight(told, told, sideways_mm=sideways)
    assert (fit.drift_deg_per_m, fit.start_heading_deg) == pytest.approx((2.0, 1.0))


@pytest.mark.parametrize("distance", [600.0, 1000.0, 2000.0])
def test_a_spread_of_setting_down_that_was_measured_is_taken_out(distance):
    fits = mean_spreads(Played(), [distance] * 10, 150, set_down_sd_deg=1.0)
    # a root mean square: single spreads may be nought, and are evened out
    assert np.sqrt(np.mean([fit.drift_sd_deg_per_m**2 for fit in fits])) < (2.0 if distance == 600 else 1.35)
    assert {fit.start_heading_from for fit in fits} == {"set_down"}
    assert not any(fit.drift_alone for fit in fits)


def test_without_a_measured_one_the_kits_usual_spread_of_setting_down_is_taken_out():
    runs = {"sideways_mm": [20, -25, 12, -10, 30]}
    fit = fit_straight([1000] * 5, [990] * 5, **runs)
    assert (fit.start_heading_from, fit.start_heading_sd_deg, fit.start_heading_deg) == ("nominal", 1.0, None)
    assert fit == replace(
        fit_straight([1000] * 5, [990] * 5, set_down_sd_deg=1.0, **runs), start_heading_from="nominal"
    )
    assert fit.drift_sd_deg_per_m < fit_straight([1000] * 5, [990] * 5, set_down_sd_deg=0.0, **runs).drift_sd_deg_per_m


@given(st.integers(2, 12), st.integers(0, 2**31), st.booleans())
def test_whatever_is_measured_no_spread_is_below_zero_or_no_number(n, seed, two):
    rng = np.random.default_rng(seed)
    told = rng.choice([400.0, 1500.0] if two else [700.0], n)
    runs = straight_runs(
        Played(set_down_sd_deg=rng.uniform(0, 4), drift_sd_deg_per_m=rng.uniform(0, 3)), list(told), rng
    )
    fit = fit_straight(told, [a for a, _ in runs], sideways_mm=[b for _, b in runs])
    assert fit.drift_sd_deg_per_m >= 0 and fit.start_heading_sd_deg >= 0 and fit.drift_u_deg_per_m > 0
    assert all(
        math.isfinite(each) for each in (fit.scale_u, fit.drift_u_deg_per_m, fit.drift_sd_deg_per_m, fit.drift_free)
    )
    assert fit.drift_alone == (len(set(told)) == 2 and n >= 4)


@pytest.mark.parametrize("spread", [-1.0, math.nan])
def test_a_spread_of_setting_down_is_zero_or_more(spread):
    with pytest.raises(FitError) as raised:
        fit_straight([600] * 2, [600] * 2, sideways_mm=[1, 2], set_down_sd_deg=spread)
    assert raised.value.message == "The spread of setting down is zero or more."


@pytest.mark.parametrize(
    ("commanded", "measured", "code"),
    [
        ([], [], "too_few"),
        ([600], [590], "too_few"),
        ([600, 600], [590], "shape"),
        ([600, math.nan], [590, 590], "not_finite"),
        ([600, 600], [590, None], "not_finite"),
        (["a", "b"], [1, 2], "not_finite"),
        ([600, 0], [590, 3], "zero"),
        ([600, 600], [0, 0], "zero"),
        ([600, 600], [590, 59], "absurd"),
        ([600, 600], [590, -590], "absurd"),
        ([66, 66], [660, 655], "absurd"),
        ([300, 600, 500], [450, 450, 450], "all_equal"),
        ([[600, 600]], [590, 590], "shape"),
    ],
)
def test_garbage_is_refused_with_what_to_do(commanded, measured, code):
    with pytest.raises(FitError) as raised:
        fit_straight(commanded, measured)
    assert raised.value.code == code
    assert len(raised.value.message) > 20


def test_a_sideways_miss_larger_than_the_run_is_absurd():
    with pytest.raises(FitError):
        fit_straight([600, 600], [600, 600], sideways_mm=[10, 700])


def test_the_examples_in_the_docstrings_hold():
    assert doctest.testmod(calibration_straight).failed == 0
