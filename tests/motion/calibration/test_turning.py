"""Spins and resting drift."""

import math

import numpy as np
import pytest

from motion.calibration.turning import fit_rest_drift, fit_spin
from motion.errors import FitError


def test_spins_of_one_size_give_a_scale():
    fit = fit_spin([1080, 1080, -1080], [1101.6, 1101.6, -1101.6])
    assert fit.turn_scale == pytest.approx(1.02)
    assert fit.turn_bias_deg is None
    assert fit.to_type(90) == pytest.approx(90 / 1.02)
    assert fit.to_type(-90) == pytest.approx(-90 / 1.02)
    assert fit.track_width(120.0) == pytest.approx(120 / 1.02)


def test_spins_of_several_sizes_tell_scale_and_bias_apart():
    commanded = np.array([360, 720, 1080, -360, -720, -1080.0])
    fit = fit_spin(commanded, commanded * 1.01 + 4 * np.sign(commanded))
    assert fit.turn_scale == pytest.approx(1.01)
    assert fit.turn_bias_deg == pytest.approx(4.0)
    assert fit.turn_bias_u_deg > 0
    assert fit.to_type(90) * 1.01 + 4 == pytest.approx(90)
    assert fit.to_type(-90) * 1.01 - 4 == pytest.approx(-90)
    assert fit.to_type(0) == 0


def test_the_robots_own_yaw_has_its_own_scale():
    fit = fit_spin([1080, -1080], [1090, -1088], yaw_deg=[1079, -1081])
    assert fit.yaw_scale == pytest.approx(1080 / 1089, rel=1e-3)
    assert fit.yaw_scale_u > 0


def test_the_stated_uncertainty_covers_the_truth_as_often_as_said():
    rng = np.random.default_rng(4)
    commanded = np.array([360, -360, 720, -720, 1080, -1080.0])
    hits = 0
    for _ in range(1500):
        measured = commanded * 1.02 + 2 * np.sign(commanded) + rng.normal(0, 3, 6)
        fit = fit_spin(commanded, measured, reading_deg=0.0)
        hits += abs(fit.turn_bias_deg - 2) < 2.776445 * fit.turn_bias_u_deg  # t, 95 %, 4 degrees of freedom
    assert hits / 1500 == pytest.approx(0.95, abs=0.02)


def test_spins_that_agree_exactly_stay_uncertain_by_what_the_eye_can_tell():
    fit = fit_spin([360, 360], [360, 360])
    assert fit.residual_sd_deg == pytest.approx(1 / math.sqrt(12))
    assert fit.turn_scale_u > 0
    assert fit_spin([360, 720, 360], [360, 720, 360]).turn_bias_u_deg > 0


@pytest.mark.parametrize(
    ("commanded", "measured", "code"),
    [
        ([360], [361], "too_few"),
        ([0, 360], [1, 361], "zero"),
        ([1080, 1080], [3, 3], "absurd"),
        ([360, np.inf], [3, 3], "not_finite"),
    ],
)
def test_garbage_is_refused(commanded, measured, code):
    with pytest.raises(FitError) as raised:
        fit_spin(commanded, measured)
    assert raised.value.code == code


def test_the_yaw_of_a_robot_at_rest_wanders_by_so_much_a_minute():
    seconds = np.arange(0, 121, 15.0)
    fit = fit_rest_drift(seconds, 179 + seconds / 60 * 1.5)
    assert fit.deg_per_minute == pytest.approx(1.5)
    assert fit.over(20) == pytest.approx(0.5)
    wrapped = (179 + seconds / 60 * 1.5 + 180) % 360 - 180
    assert fit_rest_drift(seconds, wrapped).deg_per_minute == pytest.approx(1.5)


@pytest.mark.parametrize(
    ("seconds", "yaw", "code"),
    [
        ([0, 10], [0, 1], "too_few"),
        ([5, 5, 5], [0, 1, 2], "no_spread"),
        ([0, 1, 2], [0, 20, 40], "absurd"),
        ([0, 1, 2], [0, 1, np.nan], "not_finite"),
    ],
)
def test_a_rest_that_is_none_is_refused(seconds, yaw, code):
    with pytest.raises(FitError) as raised:
        fit_rest_drift(seconds, yaw)
    assert raised.value.code == code
