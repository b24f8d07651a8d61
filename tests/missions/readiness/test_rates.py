"""The rule on whole terms: the benchmark's arrays say what the rule itself says, run by run."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from benchmarks.plain_terms import RUNS, RUNS_A_SESSION, ramp, simulate, steady, step
from benchmarks.readiness_rules import by_count_table, by_discounted_counts, by_filter, stuck
from missions.readiness.rules.answer import answer, is_stuck
from missions.readiness.rules.evidence import CountedRun, Evidence, Rule, update

FIRST = datetime(2026, 9, 1, 16, tzinfo=UTC)


def ready_by_the_rule(runs, rule):
    """Whether the rule itself calls a team ready, after each run."""
    evidence, found = Evidence(), []
    for k, success in enumerate(runs):
        at = FIRST + timedelta(days=7 * (k // RUNS_A_SESSION), minutes=k)
        evidence = update(evidence, CountedRun(bool(success), at), rule)
        found.append(answer(evidence, rule, at).code == "ready")
    return found


@pytest.mark.parametrize(
    ("rates", "alike"),
    [(steady(0.5), 0.2), (steady(0.75), 0.0), (ramp(0.3, 0.95), 0.1), (step(0.95, 0.4), 0.0)],
)
def test_the_simulated_rule_is_the_rule_itself(rates, alike):
    rule = Rule(stuck_runs=400)
    runs = simulate(rates, 12, 3, alike)
    slips = np.asarray([[slipping(row[: k + 1], rule) for k in range(RUNS)] for row in runs])
    assert (by_filter(runs, rule) & ~slips).tolist() == [ready_by_the_rule(row, rule) for row in runs]


def slipping(runs, rule):
    """The rule asks for a look first when a team slips back; how sure it is of the rate does not enter into that."""
    evidence = Evidence()
    for k, success in enumerate(runs):
        at = FIRST + timedelta(days=7 * (k // RUNS_A_SESSION), minutes=k)
        evidence = update(evidence, CountedRun(bool(success), at), rule)
    return answer(evidence, rule, at).kind == "slipping_back"


@pytest.mark.parametrize("rates", [steady(0.3), steady(0.6), ramp(0.1, 0.9)])
def test_the_simulated_stuck_is_the_rules_own(rates):
    runs = simulate(rates, 40, 5)
    words = ["".join("1" if run else "0" for run in row) for row in runs]
    assert stuck(runs, 0.65).tolist() == [[is_stuck(word[: k + 1], Rule()) for k in range(RUNS)] for word in words]


def test_runs_of_a_session_are_as_alike_as_asked():
    runs = simulate(steady(0.5), 40_000, 7, alike=0.2).astype(float)
    within = np.corrcoef(runs[:, 0], runs[:, 1])[0, 1]
    across = np.corrcoef(runs[:, 3], runs[:, 4])[0, 1]
    assert within == pytest.approx(0.2, abs=0.02) and across == pytest.approx(0.0, abs=0.02)


def test_runs_come_at_the_rate_asked_for():
    assert simulate(ramp(0.1, 0.9), 40_000, 7).mean(axis=0) == pytest.approx(ramp(0.1, 0.9), abs=0.01)
    assert simulate(step(0.3, 0.8), 40_000, 7, alike=0.1).mean(axis=0) == pytest.approx(step(0.3, 0.8), abs=0.015)


def called(ready):
    return float(ready.any(axis=1).mean())


def test_what_teams_learn_is_found_sooner_than_by_counts_that_fade():
    runs = simulate(step(0.3, 0.8), 1000, 11)
    before = Rule(confidence=0.85, clean_runs=8, clean_of=10)
    assert called(by_filter(runs, Rule())) > called(by_discounted_counts(runs, before, 0.93)) + 0.1


def test_a_count_table_never_finds_what_a_team_has_learned():
    runs = simulate(step(0.3, 0.8), 1000, 11)
    assert called(by_count_table(runs, Rule(confidence=0.9))) < 0.01


def test_three_in_a_row_would_call_nearly_everybody_ready():
    three = Rule(target=0.0, confidence=0.0, clean_runs=3, clean_of=3, least_runs=3, dates=1)
    assert called(by_filter(simulate(steady(0.5), 2000, 13), three)) > 0.95
