"""How far off a spread may be that was measured in few runs."""

import math
from dataclasses import astuple

import pytest

from motion.chance.spread_range import LARGEST_FACTOR, NOMINAL_FACTOR, noise_range, scaled_noise
from motion.scene.records import Noise


def test_how_far_a_spread_may_be_off_is_chi_squareds():
    # a standard deviation from 10 runs: 95 % limits 0.688 and 1.826 of it (chi-squared with 9 degrees of freedom,
    # 2.700 and 19.023, from any table)
    assert noise_range(10) == pytest.approx((math.sqrt(9 / 19.0228), math.sqrt(9 / 2.70039)), rel=1e-5)
    assert noise_range(1) == noise_range(2)
    assert noise_range(2)[1] == LARGEST_FACTOR


def test_nominal_spreads_are_trusted_to_their_factor_either_way():
    assert noise_range(None) == (1 / NOMINAL_FACTOR, NOMINAL_FACTOR)


def test_every_spread_is_scaled_and_nothing_else():
    noise = Noise(0.01, 3, 1, 1.5, 1, 0.5, "relative", 7, 0.4)
    assert astuple(scaled_noise(noise, 2)) == (0.02, 6, 2, 3.0, 2, 1.0, "relative", 7, 0.8)
