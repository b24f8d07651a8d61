"""Spins and resting drift."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.calibration.turning import fit_rest_drift, fit_spin
from motion.calibration.variances import widened
from motion.errors import FitError
from tests.oracles.measuring import Played, turns


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


@pytest.mark.parametrize("told", [[360, -360, 720, -720, 1080, -1080], [90, -90] * 3 + [1080, -1080] * 3])
def test_scale_and_bias_lie_within_twice_the_stated_uncertainty_as_often_as_said(told):
    rng = np.random.default_rng(4)
    robot, missed = Played(turn_scale=1.02, turn_bias_deg=2.0), np.zeros(2)
    for _ in range(600):
        fit = fit_spin(told, turns(robot, told, rng))
        missed += (
            abs(fit.turn_scale - 1.02) > 2 * fit.turn_scale_u,
            abs(fit.turn_bias_deg - 2) > 2 * fit.turn_bias_u_deg,
        )
    assert (missed / 600 < 0.07).all()


@pytest.mark.parametrize(("start", "growth"), [(1.0, 0.7), (2.0, 0.0), (0.5, 1.5)])
def test_turns_of_two_sizes_tell_how_a_turns_scatter_grows(start, growth):
    rng = np.random.default_rng(5)
    robot, told = Played(turn_sd_deg=start, turn_growth_sd_deg=growth), [90, -90] * 8 + [1080, -1080] * 8
    fits = [fit_spin(told, turns(robot, told, rng)) for _ in range(100)]
    for size in (90.0, 1080.0):
        true = math.sqrt(start**2 + growth**2 * size / 90)
        assert np.sqrt(np.mean([fit.sd_of_turn(size) ** 2 for fit in fits])) == pytest.approx(true, rel=0.1)
    assert all(fit.ask_for_deg is None and fit.turn_sd_deg >= 0 and fit.turn_growth_sd_deg >= 0 for fit in fits)
    assert all(1 <= fit.turn_free <= fit.free and 1 <= fit.turn_growth_free <= fit.free for fit in fits)


def test_turns_of_one_size_are_split_as_a_kits_usually_are():
    fit = fit_spin([1080, 1080, -1080, -1080], [1078, 1084, -1081, -1089])
    assert fit.sd_of_turn(1080) == pytest.approx(fit.residual_sd_deg)
    assert fit.turn_growth_sd_deg / fit.turn_sd_deg == pytest.approx(0.7)
    assert fit.sd_of_turn(90) == pytest.approx(fit.residual_sd_deg * math.sqrt(1.49 / 6.88))
    assert (fit.ask_for_deg, fit.turn_free, fit.turn_growth_free) == (90.0, 3.0, 3.0)
    assert fit_spin([90, 90, -90], [91, 89, -90]).ask_for_deg == 1080.0


@given(st.lists(st.floats(1000, 1400), min_size=2, max_size=9), st.integers(0, 2**31))
def test_sizes_told_too_alike_never_give_an_absurd_scale(told, seed):
    seen = turns(Played(), told, np.random.default_rng(seed))
    fit = fit_spin(told, seen)
    assert 0.97 < fit.turn_scale < 1.03
    assert fit.turn_bias_deg is None and fit.ask_for_deg == 90.0


def test_spins_of_one_thousand_and_eighty_and_a_little_more_give_a_scale_alone():
    fit = fit_spin([1080, 1085, 1090, 1095], [1074, 1081, 1083, 1090])
    assert fit.turn_scale == pytest.approx(0.995, abs=0.002) and fit.turn_scale_u < 0.005
    assert fit.turn_bias_deg is None


def test_a_wild_turn_is_flagged_among_turns_of_two_sizes():
    told = [90.0] * 6 + [1080.0] * 6
    seen = [91, 89, 90, 101, 90, 91, 1080, 1083, 1078, 1081, 1079, 1082]
    assert fit_spin(told, seen).outliers == (3,)


def test_an_old_record_is_compared_as_it_was_stated_and_scatters_alike_at_every_angle():
    fit = fit_spin([1080, 1080, -1080, -1080], [1078, 1084, -1081, -1089])
    old = replace(fit, turn_sd_deg=None, turn_growth_sd_deg=None)
    assert old.compared()[0].value_u == fit.turn_scale_u
    assert fit.compared()[0].value_u == pytest.approx(fit.turn_scale_u / widened(3))
    assert old.sd_of_turn(90) == fit.residual_sd_deg


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


def test_a_reading_at_rest_that_stands_out_is_flagged():
    assert fit_rest_drift([0, 60, 120, 180, 240], [0, 0.5, 9, 1.5, 2]).outliers == (2,)
    assert fit_rest_drift([0, 60, 120, 180, 240], [0, 0.5, 1.1, 1.5, 2]).outliers == ()


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
