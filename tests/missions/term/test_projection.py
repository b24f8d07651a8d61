"""Where pretend terms end: they read runs as the rule itself does, and say a range."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from missions.readiness.rules.answer import answer
from missions.readiness.rules.belief import after_run, no_runs, one_run_later
from missions.readiness.rules.evidence import CountedRun, Evidence, Rule, gather
from missions.term.rules.projection import Rung, too_early, where_it_ends
from tests.oracles.plain_term import plain_ends

NOON = dt.datetime(2026, 9, 7, 12, tzinfo=dt.UTC)
PLAIN = [Rung(Rule()), Rung(Rule()), Rung(Rule(time_limit_s=60.0))]


def runs(pattern: str, dates: int = 3) -> Evidence:
    each = -(-len(pattern) // dates)
    made = [NOON + dt.timedelta(weeks=i // each, minutes=i % each) for i in range(len(pattern))]
    return gather([CountedRun(mark == "1", at) for mark, at in zip(pattern, made, strict=True)], Rule())


def ends(
    evidence: Evidence, *, pace: float = 6, sessions: int = 5, rungs=PLAIN, ready: bool = False
) -> tuple[int, int]:
    return where_it_ends(rungs, evidence, pace, sessions, np.random.default_rng(1), ready=ready)


def test_a_team_that_hardly_ever_works_stays_where_it_is() -> None:
    assert ends(runs("000010000000"), sessions=2) == (0, 0)


def test_a_team_that_nearly_always_works_is_a_tier_on_and_perhaps_two() -> None:
    low, high = ends(runs("111111011"), sessions=8)
    assert low >= 1 and high >= low


def test_the_range_is_wide_where_little_is_known() -> None:
    low, high = ends(runs("101101"), sessions=6)
    assert low < high


def test_without_a_session_left_it_stands_where_it_stands() -> None:
    assert ends(runs("1111111111"), sessions=0) == (0, 0)
    assert ends(runs("1111111111"), sessions=0, ready=True) == (1, 1)


def test_a_limit_that_nobody_has_run_against_is_as_far_as_it_goes() -> None:
    timed = [Rung(Rule(time_limit_s=60.0), in_time=None), Rung(Rule())]
    assert ends(runs("111111111111"), sessions=8, rungs=timed, ready=True) == (0, 0)
    kept = [Rung(Rule(time_limit_s=60.0), in_time=True), Rung(Rule())]
    assert ends(runs("111111111111"), sessions=0, rungs=kept, ready=True) == (1, 1)


@pytest.mark.parametrize(
    ("pattern", "sessions_run", "early"), [("1111", 3, True), ("11111111", 1, True), ("11111111", 2, False)]
)
def test_too_few_runs_or_no_pace_is_too_early(pattern: str, sessions_run: int, early: bool) -> None:
    assert too_early(runs(pattern), Rule(), sessions_run) is early
    assert too_early(runs(pattern, dates=1), Rule(), sessions_run) is True


def test_one_run_later_is_the_filter_of_the_evidence() -> None:
    from missions.readiness.rules.belief import Today, chances

    belief, today = no_runs(), Today(2, 3)
    for success in (True, False):
        foretold = chances(today) if success else 1.0 - chances(today)
        many = one_run_later(np.array([belief]), foretold[None, :], np.array([False]))[0]
        assert many == pytest.approx(np.asarray(after_run(belief, success, today)), abs=1e-8)


@pytest.mark.slow
def test_pretend_terms_end_where_the_rule_itself_run_by_run_has_them_end() -> None:
    """A second way: plain runs, gathered and answered by the rule's own code."""
    evidence = runs("110111011")
    plain = plain_ends([Rule(), Rule()], evidence, pace=5, sessions=4, futures=120, seed=3)
    low, high = ends(evidence, pace=5, sessions=4, rungs=[Rung(Rule()), Rung(Rule())])
    share = sum(end >= 1 for end in plain) / len(plain)
    assert (low >= 1) == (share > 0.9) or 0.82 < share < 0.98
    assert (high >= 1) == (share > 0.1)
    assert answer(evidence, Rule(), NOON).code != "ready"
