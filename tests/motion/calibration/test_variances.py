"""Spreads that lie on top of each other."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motion.calibration import variances
from motion.calibration.variances import fit_variances, tells_apart, unbiased_sd, widened
from motion.errors import FitError


def test_one_spread_about_a_mean_is_the_usual_one():
    y = [3.0, 5.0, 4.0, 8.0]
    found = fit_variances(np.ones((4, 1)), y, np.ones((4, 1)), 0.0)
    assert found.variances[0] == pytest.approx(np.var(y, ddof=1), rel=1e-6)
    assert found.degrees[0] == pytest.approx(3.0, rel=1e-6)


def test_what_is_known_is_taken_off():
    y = [3.0, 5.0, 4.0, 8.0]
    found = fit_variances(np.ones((4, 1)), y, np.ones((4, 1)), 1.0)
    assert found.variances[0] == pytest.approx(np.var(y, ddof=1) - 1.0, rel=1e-6)
    assert fit_variances(np.ones((4, 1)), y, np.ones((4, 1)), 100.0).variances[0] == 0.0


def brute(design, y, shares, known):
    """The restricted likelihood written out with full matrices, on a grid."""
    best, at = -math.inf, (0.0, 0.0)
    for a in np.linspace(0, 6, 25):
        for b in np.linspace(0, 6, 25):
            v = np.diag(known + shares @ np.array([a, b]))
            inverse = np.linalg.inv(v)
            inner = design.T @ inverse @ design
            p = inverse - inverse @ design @ np.linalg.inv(inner) @ design.T @ inverse
            value = -0.5 * (np.linalg.slogdet(v)[1] + np.linalg.slogdet(inner)[1] + y @ p @ y)
            if value > best:
                best, at = value, (a, b)
    return best, at


@settings(max_examples=25)
@given(st.integers(0, 2**31))
def test_the_likelihood_has_no_higher_place(seed):
    rng = np.random.default_rng(seed)
    size = rng.choice([1.0, 2.0], 7)
    size[:2] = 1.0, 2.0
    shares = np.column_stack([np.ones(7), size**2])
    design = np.column_stack([size])
    y = rng.standard_normal(7) * np.sqrt(shares @ rng.uniform(0, 2, 2))
    found = fit_variances(design, y, shares, 0.1)
    best, _ = brute(design, y, shares, 0.1)
    v = np.diag(0.1 + shares @ found.variances)
    inverse = np.linalg.inv(v)
    inner = design.T @ inverse @ design
    p = inverse - inverse @ design @ np.linalg.inv(inner) @ design.T @ inverse
    reached = -0.5 * (np.linalg.slogdet(v)[1] + np.linalg.slogdet(inner)[1] + y @ p @ y)
    assert reached >= best - 1e-6
    assert (found.variances >= 0).all() and (found.degrees >= 1).all() and (found.degrees <= 6).all()


def test_two_spreads_are_told_apart_by_runs_of_two_sizes():
    rng = np.random.default_rng(3)
    size = np.repeat([1.0, 3.0], 200)
    shares = np.column_stack([np.ones(400), size**2])
    found = fit_variances(size[:, None], rng.standard_normal(400) * np.sqrt(shares @ [4.0, 1.0]), shares, 0.0)
    assert np.sqrt(found.variances) == pytest.approx([2.0, 1.0], rel=0.15)


def test_as_many_runs_as_numbers_show_no_spread():
    with pytest.raises(FitError) as refused:
        fit_variances(np.eye(2), [1.0, 2.0], np.ones((2, 1)), 0.0)
    assert refused.value.message == "2 runs show no spread about 2 fitted numbers; measure one run more."


def test_sizes_half_as_large_again_tell_apart_and_nearer_ones_do_not():
    assert tells_apart([600, -900]) and not tells_apart([600, 899]) and not tells_apart([1080, -1080])


@pytest.mark.parametrize("degrees", [2, 4, 9])
def test_a_standard_deviation_is_right_on_average(degrees):
    rng = np.random.default_rng(1)
    spreads = [unbiased_sd(float(np.var(rng.standard_normal(degrees + 1), ddof=1)), degrees) for _ in range(4000)]
    assert np.mean(spreads) == pytest.approx(1.0, abs=0.03)


def test_twice_a_widened_uncertainty_holds_the_truth_as_often_as_two_of_a_normals():
    rng = np.random.default_rng(2)
    sets = rng.standard_normal((20_000, 5))
    off = np.abs(sets.mean(axis=1)) > 2 * widened(4) * sets.std(axis=1, ddof=1) / math.sqrt(5)
    assert off.mean() == pytest.approx(0.0455, abs=0.005)


def test_the_examples_in_the_docstrings_hold():
    assert doctest.testmod(variances).failed == 0
