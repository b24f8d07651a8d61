"""Whether anything has changed: the tests against scipy, and how seldom they are wrong."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from missions.runs.rules.changes import (
    LEAST,
    LEVEL,
    PlanRun,
    changes_in,
    clean_changed,
    fisher_p,
    off_changed,
    permuted_p,
)


@given(st.integers(1, 14), st.integers(1, 14), st.data())
def test_fishers_p_is_scipys(of, later_of, data):
    good, later = data.draw(st.integers(0, of)), data.draw(st.integers(0, later_of))
    expected = stats.fisher_exact([[good, of - good], [later, later_of - later]]).pvalue
    assert fisher_p(good, of, later, later_of) == pytest.approx(expected)


@pytest.mark.parametrize("size", [3, 5, 8])
def test_the_permuted_p_is_scipys(size):
    rng = np.random.default_rng(size)
    before, after = rng.exponential(30, size), rng.exponential(60, size)

    def apart(a, b):
        return abs(a.mean() - b.mean())

    expected = stats.permutation_test((before, after), apart, alternative="greater", n_resamples=20_000).pvalue
    assert permuted_p(list(before), list(after)) == pytest.approx(expected, abs=0.02)


def test_runs_that_are_all_alike_have_not_changed():
    assert permuted_p([5.0] * 8, [5.0] * 8) == 1.0
    assert off_changed([5.0] * 16).way == "same"


def test_halving_the_distance_is_said_with_the_middles_of_both_halves():
    found = off_changed([70, 72, 71, 69, 75, 73, 25, 24, 26, 23, 27, 25])
    assert (found.way, found.before, found.after) == ("less", 71.5, 25.0)
    assert off_changed([25, 24, 26, 23, 27, 25, 70, 72, 71, 69, 75, 73]).way == "more"


def test_a_third_more_among_scattered_runs_is_about_the_same():
    found = off_changed([71, 20, 64, 35, 80, 52, 40, 15, 66, 30, 45, 41])
    assert found.before > 1.3 * found.after and found.way == "same"


def test_clean_runs_are_counted_in_both_halves():
    found = clean_changed([False] * 9 + [True] + [True] * 9 + [False])
    assert (found.way, found.before, found.after, found.together) == ("more", 1, 9, 10)
    assert clean_changed([True, False] * 8).way == "same"


def test_too_few_runs_tell_of_no_change():
    assert off_changed([70.0, 10.0] * (LEAST - 1)) is None
    assert clean_changed([True] * (2 * LEAST - 1)) is None


def test_only_runs_of_one_plan_are_compared():
    """A new plan that lands ten times as near is another task, not a change."""
    runs = [PlanRun(1, False, 100.0)] * 6 + [PlanRun(2, True, 10.0 + i % 3) for i in range(12)]
    found = changes_in(runs)
    assert found.plan == 2 and found.off.way == "same" and found.clean.way == "same"
    assert changes_in([]) is None


def test_of_two_plans_with_as_many_runs_the_newer_is_told():
    assert changes_in([PlanRun(1, True, None), PlanRun(2, True, None)]).plan == 2


def test_unmeasured_runs_count_as_clean_or_not_and_for_no_distance():
    found = changes_in([PlanRun(1, True, None)] * 12)
    assert found.off is None and found.clean.together == 12


def test_nothing_that_stays_as_it_is_is_called_a_change_too_often():
    chance = random.Random(4)
    looks, wrong = 400, 0
    for _ in range(looks):
        off = [abs(chance.gauss(0, 40)) for _ in range(2 * chance.randint(LEAST, 20))]
        wrong += off_changed(off).way != "same"
    assert wrong / looks <= LEVEL + 2 * (LEVEL * (1 - LEVEL) / looks) ** 0.5
