"""From fits to the noise of a robot."""

import math

import numpy as np
import pytest

from motion.calibration.noise import NOMINAL_NOISE, noise_from_fits
from motion.calibration.square import fit_square
from motion.calibration.straight import fit_straight
from motion.calibration.turning import fit_spin
from motion.chance.least_squares import widen


def test_a_robot_that_nobody_measured_has_the_nominal_noise_and_no_runs():
    assert noise_from_fits() == NOMINAL_NOISE
    assert NOMINAL_NOISE.runs is None


def test_straight_runs_replace_the_distance_part_only():
    fit = fit_straight([600, 600, 900, 900, 900], [590, 594, 880, 886, 883])
    noise = noise_from_fits(fit)
    assert noise.distance_scale_sd == pytest.approx(fit.scale_u * widen(5))
    assert noise.distance_sd_fraction == pytest.approx(fit.fraction_sd * widen(5))
    assert noise.turn_sd_deg == NOMINAL_NOISE.turn_sd_deg
    assert noise.runs == 5


def test_two_runs_are_believed_less_than_eight_of_the_same_spread():
    few = noise_from_fits(fit_straight([600] * 2, [598, 602]))
    many = noise_from_fits(fit_straight([600] * 8, [598, 602] * 4))
    ratio = few.distance_sd_fraction / many.distance_sd_fraction
    assert ratio > 1.5
    assert few.distance_scale_sd > 2 * many.distance_scale_sd


def test_the_weakest_fit_says_how_many_runs_it_rests_on():
    straight = fit_straight([600] * 5, [598, 602, 600, 599, 601])
    spin = fit_spin([1080] * 3, [1081, 1079, 1083])
    noise = noise_from_fits(straight, spin)
    assert noise.runs == 3
    assert noise.turn_sd_deg == pytest.approx(spin.residual_sd_deg * widen(3))


def test_a_square_path_stands_in_for_spins():
    rng = np.random.default_rng(2)
    side, turn_sd = 600.0, math.radians(1.5)
    returns = []
    for _ in range(400):
        heading = np.concatenate([[0], np.pi / 2 * np.arange(1, 4) + rng.normal(0, turn_sd, 3)])
        returns.append((side * np.cos(heading).sum(), side * np.sin(heading).sum()))
    square = fit_square(returns[:200], returns[200:], side, 120.0)
    assert noise_from_fits(square=square).turn_sd_deg == pytest.approx(1.5, rel=0.06)


def test_sideways_misses_replace_the_drift():
    fit = fit_straight([1000] * 4, [1000, 1002, 998, 1000], sideways_mm=[10, 0, -10, 0])
    assert noise_from_fits(fit).drift_sd_deg_per_m == pytest.approx(fit.drift_sd_deg_per_m * widen(4))
