"""The rule's own ranges, and how old evidence fades: numbers worked out by hand."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta

import pytest

from missions.readiness.rules.evidence import MOST_DATES, CountedRun, Evidence, ReadinessError, Rule, gather, update

FIRST = datetime(2026, 9, 1, 16, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
FORGETS_NOTHING = Rule(forget=1.0)


def run(success=True, minutes=0, **more):
    return CountedRun(success, FIRST + minutes * MINUTE, **more)


def beta(evidence):
    return round(evidence.a, 9), round(evidence.b, 9)


# What a rule may ask


PROBABILITIES = ["target", "confidence", "forget", "stale_keep", "time_confidence"]
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
    [(8, 10, 10, True), (10, 10, 10, True), (11, 10, 10, False), (8, 10, 9, False), (8, 9, 10, True)],
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
        confidence=0.85,
        forget=0.93,
        clean_runs=8,
        clean_of=10,
        dates=2,
        least_runs=5,
        window=10,
        fresh_runs=3,
        stale_keep=0.5,
        time_limit_s=None,
        time_confidence=0.8,
        stuck_runs=12,
        same_misses=3,
        quiet_days=15,
    )


def test_the_first_unknown_key_is_named():
    assert refused(zeal=1, ardour=2) == ("unknown_key", "A readiness rule has no “ardour”.")


# How evidence grows and fades


@pytest.mark.parametrize(
    ("outcomes", "ab"),
    [
        ([], (1.0, 1.0)),
        ([True], (2.0, 1.0)),
        ([False], (1.0, 2.0)),
        ([True, True, False], (3.0, 2.0)),
    ],
)
def test_without_forgetting_runs_are_counted(outcomes, ab):
    found = gather([run(outcome, k) for k, outcome in enumerate(outcomes)], FORGETS_NOTHING)
    assert beta(found) == ab
    assert (found.runs, found.since_change) == (len(outcomes), len(outcomes))


def test_forgetting_takes_a_share_of_what_is_over_the_start_at_each_run():
    """From 1 and 1 with 0.5: a clean run 2, 1; a miss 1.5, 2; a clean run 2.25, 1.5."""
    rule = Rule(forget=0.5)
    assert beta(gather([run(True, 0), run(False, 1), run(True, 2)], rule)) == (2.25, 1.5)


FOUR_CLEAN = [run(True, k) for k in range(4)]  # 5 and 1 without forgetting


@pytest.mark.parametrize(
    ("changed", "keeps", "ab", "since"),
    [
        (None, 0.5, (6.0, 1.0), 5),
        (FIRST, 0.5, (6.0, 1.0), 5),  # before all of it
        (FIRST + 3 * MINUTE, 0.5, (6.0, 1.0), 5),  # at the last run: that run was the changed robot's
        (FIRST + 3.5 * MINUTE, 0.5, (4.0, 1.0), 1),  # 5 keeps half of what is over 1: 3, and one more
        (FIRST + 9 * MINUTE, 0.5, (4.0, 1.0), 1),  # at the new run
        (FIRST + 9.5 * MINUTE, 0.5, (6.0, 1.0), 5),  # after it: not yet
        (FIRST + 5 * MINUTE, 0.0, (2.0, 1.0), 1),  # keeps nothing
        (FIRST + 5 * MINUTE, 0.25, (3.0, 1.0), 1),
        (FIRST + 5 * MINUTE, 1.0, (6.0, 1.0), 1),  # keeps all, and counts anew
    ],
)
def test_a_change_of_the_robot_between_two_runs_fades_what_came_before_it(changed, keeps, ab, since):
    rule = Rule(forget=1.0, stale_keep=keeps)
    found = update(gather(FOUR_CLEAN, rule), run(True, 9), rule, changed)
    assert beta(found) == ab
    assert (found.runs, found.since_change) == (5, since)


def test_misses_from_before_a_change_fade_like_clean_runs():
    rule = Rule(forget=1.0, stale_keep=0.5)
    before = gather([run(False, k) for k in range(4)], rule)
    assert beta(update(before, run(True, 9), rule, FIRST + 5 * MINUTE)) == (2.0, 3.0)


def test_the_first_run_ever_has_nothing_to_fade():
    found = update(Evidence(), run(True, 9), FORGETS_NOTHING, FIRST)
    assert (beta(found), found.since_change) == ((2.0, 1.0), 1)


def test_each_change_in_a_history_fades_once_and_the_newest_before_a_run_counts():
    rule = Rule(forget=1.0, stale_keep=0.5)
    changes = [FIRST + 1.5 * MINUTE, FIRST + 0.5 * MINUTE, FIRST + 90 * MINUTE]
    found = gather([run(True, k) for k in range(4)], rule, changes)
    # 2, then half of the one over 1 and a run: 2.5, the same again: 2.75, then a plain run.
    assert beta(found) == (3.75, 1.0)
    assert found.since_change == 2
    assert beta(gather([run(True, k) for k in range(2)], rule, [FIRST + MINUTE])) == (2.5, 1.0)


def test_runs_are_put_in_the_order_of_time():
    late_first = gather([run(False, 5), run(True, 1)], Rule(forget=0.5))
    assert [one.success for one in late_first.strip] == [True, False]
    assert beta(late_first) == (1.5, 2.0)


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
    found = gather([run(True, 0, duration_s=21.5), run(False, 1, cause="slipped")], FORGETS_NOTHING)
    kept = {
        "a": 2.0,
        "b": 2.0,
        "runs": 2,
        "since_change": 2,
        "strip": [
            [True, "2026-09-01T16:00:00+00:00", 21.5, ""],
            [False, "2026-09-01T16:01:00+00:00", None, "slipped"],
        ],
        "dates": ["2026-09-01"],
    }
    assert found.as_dict() == kept and Evidence.from_dict(kept) == found


@pytest.mark.parametrize("missing", ["a", "b", "runs", "since_change", "strip", "dates"])
def test_kept_evidence_without_a_part_is_to_be_rebuilt(missing):
    kept = {name: value for name, value in Evidence().as_dict().items() if name != missing}
    with pytest.raises(ReadinessError) as raised:
        Evidence.from_dict(kept)
    assert (raised.value.code, raised.value.message) == (
        "bad_evidence",
        "The kept evidence cannot be read; rebuild it from the runs.",
    )


def test_no_evidence_yet_is_the_start():
    assert Evidence.from_dict({}) == Evidence(1.0, 1.0, 0, 0, (), ())
