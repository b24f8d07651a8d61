"""The rule's own ranges, and how old evidence fades: numbers worked out by hand."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta

import pytest

from missions.readiness.rules.belief import Today, after_change, after_run, no_runs
from missions.readiness.rules.evidence import (
    MOST_DATES,
    MOST_HISTORY,
    CountedRun,
    Evidence,
    ReadinessError,
    Rule,
    gather,
    update,
)

FIRST = datetime(2026, 9, 1, 16, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


def run(success=True, minutes=0, **more):
    return CountedRun(success, FIRST + minutes * MINUTE, **more)


# What a rule may ask


PROBABILITIES = ["target", "confidence", "stale_keep", "time_confidence"]
TO_FIFTY = ["clean_runs", "dates", "least_runs", "fresh_runs", "same_misses"]
TO_FOUR_HUNDRED = ["clean_of", "window", "stuck_runs", "quiet_days"]
WIDE = {"window": 400, "clean_of": 400, "clean_runs": 0}


@pytest.mark.parametrize("name", PROBABILITIES)
@pytest.mark.parametrize("value", [0, 0.0, 0.5, 1, 1.0])
def test_a_probability_is_from_nought_to_one(name, value):
    assert getattr(Rule(**{name: value}), name) == value


@pytest.mark.parametrize("name", PROBABILITIES)
@pytest.mark.parametrize("value", [-0.001, 1.001, math.nan, math.inf, "0.5", None])
def test_what_is_no_probability_is_named(name, value):
    assert refused(**{name: value}) == ("bad_rule", f"“{name}” is a probability from 0 to 1.")


@pytest.mark.parametrize("name", TO_FIFTY)
@pytest.mark.parametrize("value", [0, 1, 50])
def test_small_counts_are_from_nought_to_fifty(name, value):
    assert getattr(Rule(**(WIDE | {name: value})), name) == value


@pytest.mark.parametrize("name", TO_FIFTY)
@pytest.mark.parametrize("value", [-1, 51, 2.5, "3"])
def test_what_is_no_small_count_is_named(name, value):
    assert refused(**(WIDE | {name: value})) == ("bad_rule", f"“{name}” is a whole number from 0 to 50.")


@pytest.mark.parametrize("name", TO_FOUR_HUNDRED)
@pytest.mark.parametrize("value", [1, 400])
def test_long_counts_are_from_one_to_four_hundred(name, value):
    wide = WIDE | ({"clean_of": value, "window": 400} if name == "clean_of" else {"clean_of": 1})
    assert getattr(Rule(**(wide | {name: value})), name) == value


@pytest.mark.parametrize("name", TO_FOUR_HUNDRED)
@pytest.mark.parametrize("value", [0, 401, 2.5, "3"])
def test_what_is_no_long_count_is_named(name, value):
    assert refused(**(WIDE | {name: value})) == ("bad_rule", f"“{name}” is a whole number from 1 to 400.")


@pytest.mark.parametrize(
    ("clean_runs", "clean_of", "window", "fits"),
    [(8, 10, 10, True), (10, 10, 10, True), (11, 10, 11, False), (8, 10, 9, False), (8, 9, 10, True)],
)
def test_clean_runs_are_counted_within_the_strip(clean_runs, clean_of, window, fits):
    asked = {"clean_runs": clean_runs, "clean_of": clean_of, "window": window}
    if fits:
        Rule(**asked)
    else:
        assert refused(**asked) == (
            "bad_rule",
            "Clean runs are counted among the last runs of the strip; lengthen the strip or ask for fewer.",
        )


@pytest.mark.parametrize("limit", [0.0, -1.0, math.nan, math.inf])
def test_a_time_limit_is_a_positive_number(limit):
    assert refused(time_limit_s=limit) == ("bad_rule", "A time limit is a positive number of seconds.")
    assert Rule(time_limit_s=0.5).time_limit_s == 0.5


def refused(**changes):
    with pytest.raises(ReadinessError) as raised:
        Rule.of(changes)
    return raised.value.code, raised.value.message


def test_the_rule_that_a_club_starts_with():
    assert Rule() == Rule(
        target=0.65,
        confidence=0.9,
        clean_runs=10,
        clean_of=12,
        dates=2,
        least_runs=5,
        window=12,
        fresh_runs=3,
        stale_keep=0.5,
        time_limit_s=None,
        time_confidence=0.8,
        stuck_runs=18,
        same_misses=3,
        quiet_days=15,
    )


def test_the_first_unknown_key_is_named():
    assert refused(zeal=1, ardour=2) == ("unknown_key", "A readiness rule has no “ardour”.")


# How evidence grows, and what a change leaves of it


def test_before_any_run_nothing_is_known():
    assert Evidence() == Evidence(no_runs(), Today(0, 0), 0, 0, "", (), ())


def test_each_run_weighs_the_belief_after_those_of_its_date_before_it():
    first = after_run(no_runs(), True, Today(0, 0), is_first=True)
    second = after_run(first, False, Today(1, 1))
    third = after_run(second, True, Today(0, 0))
    history = [run(True, 0), run(False, 1), CountedRun(True, FIRST + timedelta(days=1))]
    found = gather(history, Rule())
    assert (found.belief, found.today) == (third, Today(1, 1))
    assert (found.runs, found.since_change, found.history) == (3, 3, "101")
    assert gather(history[:2], Rule()).belief == second and gather(history[:1], Rule()).belief == first


FOUR_CLEAN = [run(True, k) for k in range(4)]


@pytest.mark.parametrize(
    ("changed", "restarts"),
    [
        (None, False),
        (FIRST, False),  # before all of it
        (FIRST + 3 * MINUTE, False),  # at the last run: that run was the changed robot's
        (FIRST + 3.5 * MINUTE, True),
        (FIRST + 9 * MINUTE, True),  # at the new run
        (FIRST + 9.5 * MINUTE, False),  # after it: not yet
    ],
)
def test_a_change_between_two_runs_leaves_a_part_of_what_came_before_it(changed, restarts):
    rule = Rule(stale_keep=0.25)
    before = gather(FOUR_CLEAN, rule)
    found = update(before, run(False, 9), rule, changed)
    kept = after_change(before.belief, 0.25) if restarts else before.belief
    today = Today(0, 0) if restarts else Today(4, 4)
    assert found.belief == after_run(kept, False, today)
    assert found.today == Today(today.clean, today.runs + 1)
    assert (found.runs, found.since_change, found.history) == ((5, 1, "0") if restarts else (5, 5, "11110"))


def test_the_first_run_ever_has_nothing_to_fade():
    found = update(Evidence(), run(True, 9), Rule(), FIRST)
    assert (found, found.since_change) == (update(Evidence(), run(True, 9), Rule()), 1)


def test_each_change_in_a_history_restarts_once_and_the_newest_before_a_run_counts():
    changes = [FIRST + 1.5 * MINUTE, FIRST + 0.5 * MINUTE, FIRST + 90 * MINUTE]
    found = gather(FOUR_CLEAN, Rule(), changes)
    assert (found.since_change, found.history, found.runs) == (2, "11", 4)
    assert gather(FOUR_CLEAN[:2], Rule(), [FIRST + MINUTE]).history == "1"


def test_runs_are_put_in_the_order_of_time():
    late_first = gather([run(False, 5), run(True, 1)], Rule())
    assert [one.success for one in late_first.strip] == [True, False]
    assert late_first.history == "10"


def test_a_history_keeps_its_last_two_hundred_runs():
    found = gather([run(k >= 3, k) for k in range(203)], Rule())
    assert MOST_HISTORY == 200 and found.history == "1" * 200 and found.since_change == 203


# What is kept of the runs


def test_the_strip_keeps_the_last_runs_and_evidence_the_last_dates():
    rule = Rule(window=3, clean_of=3, clean_runs=2)
    history = [CountedRun(k % 2 == 0, FIRST + timedelta(days=k)) for k in range(14)]
    found = gather(history, rule)
    assert found.strip == tuple(history[-3:])
    assert MOST_DATES == 12 and found.dates == tuple(date(2026, 9, day) for day in range(3, 15))
    assert (found.runs, found.last_at) == (14, history[-1].at)
    assert Evidence().last_at is None


def test_a_date_is_kept_once():
    found = gather([run(True, 0), run(True, 1), CountedRun(True, FIRST + timedelta(days=1))], Rule())
    assert found.dates == (date(2026, 9, 1), date(2026, 9, 2))


@pytest.mark.parametrize(
    ("duration_s", "kept"),
    [(21.5, 21.5), (0.1, 0.1), (0.0, None), (-3.0, None), (math.nan, None), (math.inf, None), (None, None)],
)
def test_only_a_time_that_means_something_is_kept(duration_s, kept):
    (one,) = update(Evidence(), run(duration_s=duration_s, cause="slipped"), Rule()).strip
    assert (one.duration_s, one.cause) == (kept, "slipped")


def test_a_run_at_the_moment_of_the_newest_is_taken_and_an_older_one_is_not():
    evidence = gather([run(True, 5)], Rule())
    assert update(evidence, run(False, 5), Rule()).runs == 2
    with pytest.raises(ReadinessError) as raised:
        update(evidence, run(False, 4), Rule())
    assert (raised.value.code, raised.value.message) == (
        "out_of_order",
        "This run is older than the newest one; rebuild the evidence.",
    )


def test_evidence_is_kept_under_these_names():
    found = gather([run(True, 0, duration_s=21.5), run(False, 1, cause="slipped")], Rule())
    kept = {
        "belief": list(found.belief),
        "today": [1, 2],
        "runs": 2,
        "since_change": 2,
        "history": "10",
        "strip": [
            [True, "2026-09-01T16:00:00+00:00", 21.5, ""],
            [False, "2026-09-01T16:01:00+00:00", None, "slipped"],
        ],
        "dates": ["2026-09-01"],
    }
    assert found.as_dict() == kept and Evidence.from_dict(kept) == found


@pytest.mark.parametrize("missing", ["belief", "today", "runs", "since_change", "history", "strip", "dates"])
def test_kept_evidence_without_a_part_is_to_be_rebuilt(missing):
    kept = {name: value for name, value in Evidence().as_dict().items() if name != missing}
    with pytest.raises(ReadinessError) as raised:
        Evidence.from_dict(kept)
    assert (raised.value.code, raised.value.message) == (
        "bad_evidence",
        "The kept evidence cannot be read; rebuild it from the runs.",
    )


def test_a_belief_on_another_grid_is_to_be_rebuilt():
    with pytest.raises(ReadinessError) as raised:
        Evidence.from_dict(Evidence().as_dict() | {"belief": [0.5, 0.5]})
    assert raised.value.code == "bad_evidence"


def test_no_evidence_yet_is_the_start():
    assert Evidence.from_dict({}) == Evidence()
