"""What runs say of a true rate that may move: the filter against loops that do the same one cell at a time."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from missions.readiness.rules.belief import (
    ALIKE,
    CELLS,
    JUMP,
    LEARN,
    PRIOR_SHAPE,
    RISE,
    Today,
    after_change,
    after_run,
    chance_over,
    chances_over_if_clean,
    no_runs,
    rates_at,
)

words = st.text("01", min_size=1, max_size=40)
rates = st.floats(0.02, 0.98)


def believed(word, a_day=4):
    """After these runs, so many a date."""
    belief, today = no_runs(), Today()
    for k, letter in enumerate(word):
        today = today if k % a_day else Today()
        belief = after_run(belief, letter == "1", today, is_first=k == 0)
        today = Today(today.clean + (letter == "1"), today.runs + 1)
    return belief, today


def plainly(word, a_day=4):
    """The same, cell by cell and share by share."""
    prior = stats.beta(PRIOR_SHAPE, PRIOR_SHAPE)
    start = [prior.cdf((i + 1) / CELLS) - prior.cdf(i / CELLS) for i in range(CELLS)]
    weights = list(start)
    for k, letter in enumerate(word):
        if k:
            moved = [JUMP * start[i] for i in range(CELLS)]
            for i, weight in enumerate(weights):
                moved[i] += (1 - JUMP) * (1 - LEARN) * weight
                low, high = (i + 0.5) / CELLS, (i + 0.5) / CELLS + RISE
                for j in range(CELLS):
                    top = math.inf if j == CELLS - 1 else (j + 1) / CELLS
                    part = max(0.0, min(high, top) - max(low, j / CELLS))
                    moved[j] += (1 - JUMP) * LEARN * weight * part / RISE
            weights = moved
        day = word[k - k % a_day : k]
        strength = (1 - ALIKE) / ALIKE
        for i in range(CELLS):
            clean = (strength * (i + 0.5) / CELLS + day.count("1")) / (strength + len(day))
            weights[i] *= clean if letter == "1" else 1 - clean
        weights = [weight / math.fsum(weights) for weight in weights]
    return weights


@pytest.mark.parametrize("word", ["1", "0", "1101", "0000011111", "111110000011110"])
def test_the_filter_is_what_loops_make_of_it(word):
    assert list(believed(word)[0]) == pytest.approx(plainly(word), abs=1e-7)


@pytest.mark.parametrize(
    ("word", "over"),
    [("", 0.3687), ("1", 0.6203), ("0", 0.1171), ("11111", 0.932), ("1" * 10, 0.9891), ("1111111100", 0.6087)],
)
def test_the_chance_to_be_over_the_bar_after_so_many_runs(word, over):
    assert chance_over(believed(word)[0], 0.65) == pytest.approx(over, abs=2e-3)


def test_before_any_run_good_and_bad_are_alike():
    assert chance_over(no_runs(), 0.5) == pytest.approx(0.5)
    assert no_runs()[::-1] == pytest.approx(no_runs())


@given(words)
def test_a_belief_is_a_distribution(word):
    belief, _ = believed(word)
    assert len(belief) == CELLS and min(belief) >= 0.0
    assert math.fsum(belief) == pytest.approx(1.0, abs=1e-6)


@given(words, rates)
def test_the_rate_under_which_it_lies_is_the_inverse_of_the_chance_to_be_over(word, rate):
    belief, _ = believed(word)
    assert (
        rates_at(belief, 1.0 - chance_over(belief, rate)) == (pytest.approx(rate, abs=1e-4),)
        or min(chance_over(belief, rate), 1.0 - chance_over(belief, rate)) < 1e-6
    )


@given(words, rates, st.integers(1, 8))
def test_a_clean_run_never_speaks_against_a_team_and_a_miss_never_for_it(word, rate, a_day):
    belief, today = believed(word, a_day)
    before = chance_over(belief, rate)
    clean, miss = (chance_over(after_run(belief, good, today), rate) for good in (True, False))
    assert clean > miss
    # One in a hundred runs begins anew, and of that certainty knows nothing: it is held a little under one.
    assert clean >= before - 2e-3 and (clean > before or before > 0.9)


@given(words, st.integers(1, 3), st.integers(1, 8))
def test_a_clean_run_in_place_of_one_of_the_last_three_misses_never_lowers_the_chance(word, back, a_day):
    at = max(0, len(word) - back)
    better = word[:at] + "1" + word[at + 1 :]
    assert chance_over(believed(better, a_day)[0], 0.65) >= chance_over(believed(word, a_day)[0], 0.65) - 1e-6


def test_misses_without_a_break_before_clean_runs_are_the_clearer_sign_that_something_changed():
    """So a clean run in place of an early miss can lower the chance, by up to a quarter (docs/readiness-rule.md)."""
    unbroken, broken = (chance_over(believed(word)[0], 0.65) for word in ("00000001111", "01000001111"))
    assert broken < unbroken - 0.05


def test_runs_of_one_date_say_less_than_as_many_on_several():
    together, apart = believed("1" * 8, 8)[0], believed("1" * 8, 2)[0]
    assert chance_over(together, 0.65) < chance_over(apart, 0.65)
    together, apart = believed("0" * 8, 8)[0], believed("0" * 8, 2)[0]
    assert chance_over(together, 0.35) > chance_over(apart, 0.35)


@pytest.mark.parametrize("keep", [0.0, 0.25, 1.0])
def test_after_a_change_so_much_of_what_was_known_holds_on(keep):
    belief, _ = believed("11111111")
    over = keep * chance_over(belief, 0.65) + (1 - keep) * chance_over(no_runs(), 0.65)
    assert chance_over(after_change(belief, keep), 0.65) == pytest.approx(over, abs=1e-6)


@given(words)
def test_looking_ahead_says_what_clean_runs_then_do(word):
    belief, today = believed(word)
    ahead = chances_over_if_clean(belief, 0.65, today, 3, is_first=False)
    for chance in ahead:
        assert chance == pytest.approx(chance_over(belief, 0.65), abs=1e-6)
        belief = after_run(belief, True, today)
        today = Today(today.clean + 1, today.runs + 1)
    assert chances_over_if_clean(no_runs(), 0.65, Today(), 1, is_first=True)[1] == pytest.approx(
        chance_over(believed("1")[0], 0.65), abs=1e-6
    )


@pytest.mark.parametrize(("rate", "over"), [(0.0, 1.0), (1.0, 0.0), (-1.0, 1.0), (2.0, 0.0)])
def test_no_rate_is_under_nought_or_over_one(rate, over):
    assert chance_over(no_runs(), rate) == pytest.approx(over)
