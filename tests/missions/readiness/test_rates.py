"""How often the rule is wrong over a term, when a coach looks after every run."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from benchmarks.coach_rule import (
    FALSE_AT,
    FALSE_BAR,
    MEDIAN_BAR,
    MISSED_AT,
    MISSED_BAR,
    RUNS,
    RUNS_A_SESSION,
    first_ready,
    improving,
    rates_of,
    term,
)
from missions.readiness.rules.answer import answer
from missions.readiness.rules.evidence import CountedRun, Evidence, Rule, update

FIRST = datetime(2026, 9, 1, 16, tzinfo=UTC)


def first_ready_by_the_rule(runs, rule):
    evidence = Evidence()
    for k, success in enumerate(runs):
        at = FIRST + timedelta(days=7 * (k // RUNS_A_SESSION), minutes=k)
        evidence = update(evidence, CountedRun(bool(success), at), rule)
        if answer(evidence, rule, at).code == "ready":
            return k + 1
    return 0


@pytest.mark.parametrize("rate", [0.5, 0.7, 0.85])
def test_the_simulated_rule_is_the_rule_itself(rate):
    rule = Rule()
    runs = term(rate, teams=40, seed=3)
    assert first_ready(runs, rule).tolist() == [first_ready_by_the_rule(row, rule) for row in runs]


def test_the_defaults_keep_both_errors_under_one_in_twenty():
    rule = Rule()
    false, _ = rates_of(rule, FALSE_AT)
    called, median = rates_of(rule, MISSED_AT)
    assert false <= FALSE_BAR
    assert 1 - called <= MISSED_BAR
    assert median <= MEDIAN_BAR


def test_three_in_a_row_would_call_nearly_everybody_ready():
    three = Rule(target=0.0, confidence=0.0, clean_runs=3, clean_of=3, least_runs=3, dates=1)
    share = np.mean(first_ready(term(0.5, teams=4000), three) > 0)
    assert share > 0.95


def test_the_earlier_proposals_were_wrong_more_often():
    published = Rule(target=0.65, confidence=0.85, forget=0.95, clean_runs=3, clean_of=4)
    assert rates_of(published, FALSE_AT)[0] > FALSE_BAR


def test_forgetting_earns_its_place_when_teams_improve():
    rule = Rule()
    _, late, _ = improving(rule, 0.4, 0.85)
    _, never_forgetting, _ = improving(replace(rule, forget=1.0), 0.4, 0.85)
    assert late > never_forgetting + 0.2
    assert RUNS == 48
