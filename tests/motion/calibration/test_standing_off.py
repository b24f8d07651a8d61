"""How far a thing stands off, against simulated corners and by its symmetries."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from motion.calibration.standing_off import stands_off
from motion.errors import FitError

BOX = ((900.0, 500.0), (1200.0, 500.0), (1200.0, 750.0), (900.0, 750.0))
MIDDLE = complex(1050.0, 625.0)


def moved(by: complex, turn_deg: float) -> dict[int, tuple[float, float]]:
    turn = complex(math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg)))
    places = [MIDDLE + turn * (complex(*corner) - MIDDLE) + by for corner in BOX]
    return {i: (place.real, place.imag) for i, place in enumerate(places)}


@given(some.floats(-50, 50), some.floats(-50, 50), some.floats(-20, 20), some.floats(0, 2 * math.pi))
def test_what_was_moved_and_turned_is_said_from_wherever_it_is_seen(
    near: float, left: float, turn_deg: float, way: float
) -> None:
    ahead = complex(math.cos(way), math.sin(way))
    home = MIDDLE - 800.0 * ahead
    found = stands_off(BOX, moved(-near * ahead + left * 1j * ahead, turn_deg), np.eye(8), (home.real, home.imag))
    assert found.near.value == pytest.approx(near, abs=1e-6)
    assert found.left.value == pytest.approx(left, abs=1e-6)
    assert found.turned is not None and found.turned.value == pytest.approx(turn_deg, abs=1e-6)


def test_the_said_ranges_hold_nineteen_of_twenty() -> None:
    rng = np.random.default_rng(4)
    root = rng.normal(0.0, 1.0, (8, 8)) + 2.0 * np.eye(8)
    covariance = root @ root.T
    truth = moved(complex(-18.0, 6.0), 3.0)
    flat = np.array(list(truth.values())).ravel()
    sure = stands_off(BOX, truth, covariance, (0.0, 0.0))
    held = np.zeros(3)
    for _ in range(2000):
        noisy = (flat + root @ rng.normal(size=8)).reshape(-1, 2)
        found = stands_off(BOX, {i: (x, y) for i, (x, y) in enumerate(noisy)}, covariance, (0.0, 0.0))
        pairs = ((found.near, sure.near), (found.left, sure.left), (found.turned, sure.turned))
        held += [abs(got.value - true.value) <= got.half for got, true in pairs if got and true]
    assert ((held / 2000 > 0.935) & (held / 2000 < 0.965)).all()


def test_one_corner_says_nothing_of_a_turn() -> None:
    found = stands_off(BOX, {0: (890.0, 500.0)}, np.eye(2), (0.0, 500.0))
    assert found.turned is None and found.is_sure


def test_a_covariance_of_another_size_is_refused() -> None:
    with pytest.raises(FitError) as refused:
        stands_off(BOX, {0: (890.0, 500.0)}, np.eye(4), (0.0, 500.0))
    assert refused.value.code == "shape"
