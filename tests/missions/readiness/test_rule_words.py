"""A rule read out: every sentence, one and many."""

from __future__ import annotations

from missions.readiness.rules.evidence import Rule
from missions.readiness.rules.rule_words import look_in_words, rule_in_words


def test_the_usual_rule_in_full():
    assert rule_in_words(Rule()) == [
        "It is at least 90 % sure that the team runs clean over 65 % of the time.",
        "At least 5 runs, on at least 2 dates.",
        "10 clean runs among the last 12.",
        "At least 3 runs since something changed: the robot, its numbers or the program; what came before then keeps 50 % of its weight.",
        "Older runs count for less, since teams learn; runs of one date count for less than runs of several.",
    ]


def test_a_rule_of_ones_in_full():
    rule = Rule(least_runs=1, dates=1, clean_runs=1, fresh_runs=1, stale_keep=0.125, target=0.995)
    assert rule_in_words(rule) == [
        "It is at least 90 % sure that the team runs clean over 99.5 % of the time.",
        "At least 1 run, on at least 1 date.",
        "1 clean run among the last 12.",
        "At least 1 run since something changed: the robot, its numbers or the program; what came before then keeps 12.5 % of its weight.",
        "Older runs count for less, since teams learn; runs of one date count for less than runs of several.",
    ]


def test_a_timed_rule_without_fresh_runs_in_full():
    assert rule_in_words(Rule(fresh_runs=0, time_limit_s=75.0))[3:] == [
        "A chance of at least 80 % that the next run beats 75 s, "
        "worked out from the times of the runs that met every criterion.",
        "Older runs count for less, since teams learn; runs of one date count for less than runs of several.",
    ]


def test_when_the_rule_asks_for_a_look_in_full():
    assert look_in_words(Rule()) == [
        "Stuck: after at least 18 runs since the last change it is almost sure that the rate is under the bar, and no rise is "
        "shown yet: the later half is not clearly better.",
        "Slipping back: the later half of the strip is almost surely worse than the earlier one.",
        "The same miss again: 3 misses in a row with one cause.",
        "Gone quiet: no run for 15 days.",
    ]
    ones = look_in_words(Rule(stuck_runs=1, same_misses=1, quiet_days=1))
    assert ones[0].startswith("Stuck: after at least 18 runs since")
    assert ones[2:] == ["The same miss again: 1 miss in a row with one cause.", "Gone quiet: no run for 1 day."]
