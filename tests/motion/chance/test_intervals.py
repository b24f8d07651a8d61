"""Intervals and decisions against published tables, scipy and statsmodels."""

import doctest
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from motion.chance import intervals
from motion.chance.intervals import beta_above, later_better, wilson
from motion.errors import FitError
from tests.published import published_cases


@pytest.mark.parametrize("case", published_cases("intervals", "wilson"))
def test_wilson_meets_newcombes_table_and_recomputed_values(case):
    assert list(wilson(case.given["successes"], case.given["runs"])) == case["interval"]


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
    ]:
        with pytest.raises(FitError) as raised:
            call()
        assert raised.value.code == code


@pytest.mark.parametrize("case", published_cases("intervals", "posterior"))
def test_beta_posteriors_meet_their_exact_values(case):
    s, n, p0 = (case.given[key] for key in ("successes", "runs", "rate"))
    assert beta_above(1 + s, 1 + n - s, p0) == case["uniform"]
    assert beta_above(0.5 + s, 0.5 + n - s, p0) == case["jeffreys"]
    direct = sum(math.comb(n + 1, j) * p0**j * (1 - p0) ** (n + 1 - j) for j in range(s + 1))
    assert beta_above(1 + s, 1 + n - s, p0) == pytest.approx(direct, abs=1e-12)


@pytest.mark.parametrize("case", published_cases("intervals", "improving"))
def test_later_better_meets_its_exact_values(case):
    assert later_better(tuple(case.given["early"]), tuple(case.given["late"])) == case["probability"]


@given(st.integers(0, 40), st.integers(0, 40), st.data())
def test_later_better_and_its_mirror_sum_to_one(n1, n2, data):
    early = (data.draw(st.integers(0, n1)), n1)
    late = (data.draw(st.integers(0, n2)), n2)
    assert later_better(early, late) + later_better(late, early) == pytest.approx(1.0, abs=1e-9)


def test_the_examples_in_the_docstrings_hold():
    assert doctest.testmod(intervals).failed == 0
