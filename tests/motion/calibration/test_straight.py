"""Straight runs."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.calibration import straight as calibration_straight
from motion.calibration.straight import fit_straight
from motion.errors import FitError
from tests.published import published


def test_a_robot_that_stops_short_types_more():
    fit = fit_straight([600, 600, 900, 900], [588, 588, 882, 882])
    assert fit.scale == pytest.approx(0.98)
    assert fit.to_type(490.0) == pytest.approx(500.0)
    assert fit.wheel_diameter(56.0) == pytest.approx(54.88)
    assert fit.runs == 4


def test_the_scale_and_its_uncertainty_are_nists():
    # its ordinates are out of range for a robot, so they are taken smaller; the tape's step is set to nothing
    case, smaller = published("least_squares", "NoInt1"), 1.5
    fit = fit_straight(case.given["x"], np.array(case.given["y"]) / smaller, reading_mm=0.0)
    assert fit.scale * smaller == case["slope"]
    assert fit.scale_u * smaller == case["slope_u"]
    assert fit.residual_sd_mm * smaller == case["residual_sd"]


def test_runs_that_agree_to_the_tapes_step_are_still_uncertain():
    fit = fit_straight([600] * 3, [612] * 3)
    assert fit.residual_sd_mm == pytest.approx(0.0, abs=1e-9)
    assert fit.scale_u == pytest.approx(1 / math.sqrt(12) / math.sqrt(3) / 600)


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


def test_the_true_scale_lies_within_the_stated_uncertainty_as_often_as_said():
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(1500):
        commanded = rng.choice([300.0, 600.0, 900.0], 5)
        fit = fit_straight(commanded, commanded * 0.98 + rng.normal(0, 4, 5), reading_mm=0.0)
        inside += abs(fit.scale - 0.98) < 2.776445 * fit.scale_u  # Student t, 95 %, 4 degrees of freedom
    assert inside / 1500 == pytest.approx(0.95, abs=0.02)


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
