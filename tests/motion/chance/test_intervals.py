"""Intervals and decisions against published tables, scipy and statsmodels."""

import doctest
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from motion.chance import intervals
from motion.chance.intervals import SequentialTest, beta_above, beta_interval, discount, later_better, wilson
from motion.errors import FitError


@pytest.mark.parametrize(
    ("k", "n", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_meets_newcombes_table(k, n, low, high):
    # Newcombe, Statistics in Medicine 17:857-872, 1998, table I (second-hand)
    assert wilson(k, n) == pytest.approx((low, high), abs=5e-5)


def test_eight_of_ten_and_ten_of_ten():
    # recomputed with scipy 1.17 and statsmodels 0.15
    assert wilson(8, 10) == pytest.approx((0.4901624715, 0.9433178485), abs=1e-10)
    assert wilson(10, 10) == pytest.approx((0.7224672001, 1.0), abs=1e-10)


@given(st.integers(1, 400), st.data(), st.floats(0.5, 0.999))
def test_wilson_agrees_with_scipy_and_statsmodels(n, data, level):
    k = data.draw(st.integers(0, n))
    low, high = wilson(k, n, level)
    reference = stats.binomtest(k, n).proportion_ci(level, method="wilson")
    assert (low, high) == pytest.approx((reference.low, reference.high), abs=1e-9)
    assert (low, high) == pytest.approx(proportion_confint(k, n, 1 - level, method="wilson"), abs=1e-9)
    assert low <= k / n <= high


def test_no_trials_leave_everything_open():
    assert wilson(0, 0) == (0.0, 1.0)


@pytest.mark.parametrize("call", [lambda: wilson(3, 2), lambda: wilson(-1, 2), lambda: wilson(math.nan, 2)])
def test_a_count_that_is_none_is_refused(call):
    with pytest.raises(FitError) as raised:
        call()
    assert raised.value.code == "bad_count"


def test_other_nonsense_is_refused_with_its_own_code():
    for call, code in [
        (lambda: wilson(1, 2, 1.0), "bad_level"),
        (lambda: beta_above(0.0, 1.0, 0.5), "bad_shape"),
        (lambda: beta_above(math.nan, 1.0, 0.5), "bad_shape"),
        (lambda: discount(1, 1, True, 1.5), "bad_forget"),
        (lambda: SequentialTest(p0=0.8, p1=0.5), "bad_rates"),
        (lambda: SequentialTest(missed=0.0), "bad_risks"),
    ]:
        with pytest.raises(FitError) as raised:
            call()
        assert raised.value.code == code


@pytest.mark.parametrize(
    ("s", "n", "p0", "uniform", "jeffreys"),
    [
        (4, 5, 0.5, 57 / 64, 0.912287090676),
        (5, 5, 0.8, 11529 / 15625, 0.874533103589),
        (8, 10, 0.7, 0.68725954575, 0.745008448544),
        (9, 10, 0.8, 0.6778774528, 0.773635087620),
        (10, 10, 0.8, 0.91410065408, 0.967612588325),
        (18, 20, 0.8, 0.821297166786, 0.872952332850),
    ],
)
def test_beta_posteriors_meet_their_exact_values(s, n, p0, uniform, jeffreys):
    # exact binomial sums and scipy.stats.beta, two routes
    assert beta_above(1 + s, 1 + n - s, p0) == pytest.approx(uniform, abs=1e-11)
    assert beta_above(0.5 + s, 0.5 + n - s, p0) == pytest.approx(jeffreys, abs=1e-11)
    direct = sum(math.comb(n + 1, j) * p0**j * (1 - p0) ** (n + 1 - j) for j in range(s + 1))
    assert beta_above(1 + s, 1 + n - s, p0) == pytest.approx(direct, abs=1e-12)


@given(st.floats(0.5, 60), st.floats(0.5, 60), st.floats(0.5, 0.99))
def test_beta_interval_agrees_with_scipy(a, b, level):
    assert beta_interval(a, b, level) == pytest.approx(stats.beta(a, b).interval(level), abs=1e-8)


def run_through(word, forget):
    a, b = 1.0, 1.0
    for letter in word:
        a, b = discount(a, b, letter == "1", forget)
    return a, b


@pytest.mark.parametrize(
    ("word", "probability"),
    [
        ("0010011011", 0.2085608925),
        ("1111111111", 0.9314214690),
        ("0000011111", 0.2862534762),
        ("1111100000", 0.0364166088),
    ],
)
def test_a_discounted_beta_meets_its_derived_values(word, probability):
    # derived for this project by two routes; forget 0.9, prior (1, 1)
    assert beta_above(*run_through(word, 0.9), 0.7) == pytest.approx(probability, abs=1e-9)


def test_discounted_counts_meet_their_derived_values():
    assert run_through("0010011011", 0.9) == pytest.approx((4.7633969, 3.749818699), abs=1e-7)
    assert run_through("1" * 10, 0.9) == pytest.approx((7.513215599, 1.0), abs=1e-9)


@given(st.lists(st.booleans(), max_size=60))
def test_forgetting_nothing_is_the_plain_posterior(runs):
    a, b = run_through(["1" if run else "0" for run in runs], 1.0)
    assert (a, b) == pytest.approx((1 + sum(runs), 1 + len(runs) - sum(runs)))


def test_later_better_meets_its_exact_values():
    # exact fractions by two routes, uniform priors
    assert later_better((2, 8), (6, 8)) == pytest.approx(1817 / 1870, abs=1e-12)
    assert later_better((1, 5), (4, 5)) == pytest.approx(887 / 924, abs=1e-12)
    assert later_better((3, 8), (3, 8)) == pytest.approx(0.5, abs=1e-12)


@given(st.integers(0, 40), st.integers(0, 40), st.data())
def test_later_better_and_its_mirror_sum_to_one(n1, n2, data):
    early = (data.draw(st.integers(0, n1)), n1)
    late = (data.draw(st.integers(0, n2)), n2)
    assert later_better(early, late) + later_better(late, early) == pytest.approx(1.0, abs=1e-9)


def test_walds_test_meets_its_bounds_steps_and_decisions():
    # Wald 1945; p0 .5, p1 .8, a .05, b .10, values derived
    test = SequentialTest()
    assert (test.upper, test.lower) == pytest.approx((2.890371758, -2.251291799), abs=1e-9)
    assert (test.step(True), test.step(False)) == pytest.approx((0.470003629, -0.916290732), abs=1e-9)
    assert test.decide([True] * 20) == ("ready", 7)
    assert test.decide([letter == "1" for letter in "1101111111"]) == ("ready", 10)
    assert test.decide([letter == "1" for letter in "0001"]) == ("not yet", 3)
    assert test.decide([True, False]) == ("undecided", 2)
    assert test.decide([]) == ("undecided", 0)


def test_the_examples_in_the_docstrings_hold():
    assert doctest.testmod(intervals).failed == 0
