"""What a coach reads, whole sentence by whole sentence, and the exact edges between one answer and the next."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from missions.readiness.rules.answer import answer, chance_in_time, clean_runs_needed, count_in_words
from missions.readiness.rules.evidence import CountedRun, Rule, gather, update

FIRST = datetime(2026, 9, 1, 16, tzinfo=UTC)
OPENS = "A coach opens the next tier; more misses would take this back."
LOOK = "Look at what changed: battery, tyres, the table, the program."
ONE_THING = "Change one thing that answers this cause, then run again."


def runs(word, a_day=3, causes=(), times=()):
    """Each letter a run, 1 for a clean one; three a date, a week between dates."""
    return [
        CountedRun(
            letter == "1",
            FIRST + timedelta(days=7 * (i // a_day), minutes=i),
            times[i] if times else None,
            causes[i] if causes else "",
        )
        for i, letter in enumerate(word)
    ]


def judged(word, rule=None, *, changed_at=None, later=timedelta(0), **how):
    evidence = gather(runs(word, **how), rule or Rule())
    return answer(evidence, rule or Rule(), (evidence.last_at or FIRST) + later, changed_at)


def said(found):
    return found.code, found.kind, found.why, found.need


@pytest.mark.parametrize(
    ("word", "code", "why", "need"),
    [
        ("", "too_few", "No runs yet.", "Log the first of at least 5 runs."),
        ("0", "too_few", "Only 1 run: 0 of the last 1 (3 to 68 %) clean.", "Log 4 runs more."),
        ("1", "too_few", "Only 1 run: 1 of the last 1 (32 to 97 %) clean.", "Log 4 runs more."),
        ("11", "too_few", "Only 2 runs: 2 of the last 2 (47 to 98 %) clean.", "Log 3 runs more."),
        ("1111", "too_few", "Only 4 runs: 4 of the last 4 (65 to 99 %) clean.", "Log 1 run more."),
        (
            "11111",
            "working",
            "5 of the last 5 (70 to 100 %) clean: 93 % chance that it runs clean over 65 % of the time.",
            "Ready would take 5 more clean runs in a row.",
        ),
        (
            "111111111",
            "working",
            "9 of the last 9 (82 to 100 %) clean: 98 % chance that it runs clean over 65 % of the time.",
            "Ready would take 1 more clean run in a row.",
        ),
        (
            "1111111111",
            "ready",
            "10 of the last 10 (84 to 100 %) clean: over 99 % chance that it runs clean over 65 % of the time.",
            OPENS,
        ),
        (
            "1" * 30,
            "ready",
            "12 of the last 12 (97 to 100 %) clean: over 99 % chance that it runs clean over 65 % of the time.",
            OPENS,
        ),
        (
            "010001000",  # a chance of 1.3 %
            "working",
            "2 of the last 9 (12 to 49 %) clean: 1 % chance that it runs clean over 65 % of the time.",
            "Ready would take 15 more clean runs in a row.",
        ),
        (
            "100000100",
            "working",
            "2 of the last 9 (12 to 49 %) clean: 1 % chance that it runs clean over 65 % of the time.",
            "Ready would take 16 more clean runs in a row.",
        ),
        (
            "1100000000",
            "working",
            "2 of the last 10 (5 to 42 %) clean: under 1 % chance that it runs clean over 65 % of the time.",
            "Ready would take 14 more clean runs in a row.",
        ),
    ],
)
def test_the_answer_after_so_many_runs_in_full(word, code, why, need):
    assert said(judged(word)) == (code, "", why, need)


@pytest.mark.parametrize(
    ("rule", "need"),
    [
        (Rule(least_runs=1), "Log the first of at least 1 run."),
        (Rule(least_runs=2), "Log the first of at least 2 runs."),
    ],
)
def test_one_run_is_no_runs(rule, need):
    assert judged("", rule).need == need


@pytest.mark.parametrize(
    ("code", "word"),
    [("", "Too few runs to tell"), ("11111", "Working"), ("1" * 10, "Ready"), ("0" * 18, "Needs a look")],
)
def test_each_of_the_four_answers_has_its_word(code, word):
    assert judged(code).word == word


@pytest.mark.parametrize(
    ("word", "words"),
    [("", "no runs yet"), ("0", "0 of the last 1 (3 to 68 %)"), ("1110111011", "8 of the last 10 (58 to 93 %)")],
)
def test_a_count_comes_with_where_the_true_rate_lies(word, words):
    assert count_in_words(gather(runs(word), Rule()), Rule()) == words


# Slipping back


@pytest.mark.parametrize(
    ("word", "why"),
    [
        ("1111100000", "It went from 5 of 5 to 0 of the last 5 clean."),
        ("1111111000", "It went from 5 of 5 to 2 of the last 5 clean."),
        ("1111000000", "It went from 4 of 5 to 0 of the last 5 clean."),
        ("1011100001", "It went from 4 of 5 to 1 of the last 5 clean."),
        ("111000", "It went from 3 of 3 to 0 of the last 3 clean."),
        ("1110000", "It went from 3 of 3 to 0 of the last 4 clean."),
        ("1111100", None),
        ("1111111100", None),
        ("1110000000", None),
        ("1101000000", None),
    ],
)
def test_slipping_back_is_said_of_a_team_that_was_over_the_bar_and_surely_is_worse(word, why):
    found = judged(word)
    if why is None:
        assert found.kind == ""
    else:
        assert said(found) == ("look", "slipping_back", why, LOOK)


@pytest.mark.parametrize(
    ("target", "slips"),
    [(0.55, True), (0.6, True), (0.61, False), (0.65, False)],
)
def test_a_team_that_was_never_over_the_bar_is_not_slipping_back(target, slips):
    """Three of five, then none: the bar decides whether that was a fall."""
    assert (judged("1101000000", Rule(target=target)).kind == "slipping_back") is slips


# The same miss again


@pytest.mark.parametrize(
    ("word", "causes", "why"),
    [
        (
            "10000",
            ["", *["turned_too_far"] * 4],
            "The last 3 misses had one cause: turned too far. 1 of the last 5 (8 to 53 %) clean.",
        ),
        ("00100", ["a", "stopped_short", "", "stopped_short", "stopped_short"], "stopped short"),
        ("11000", ["", "", "slipped", "turned_too_far", "turned_too_far"], None),
        ("11100", ["", "", "", "slipped", "slipped"], None),
        ("10001", ["", "slipped", "slipped", "slipped", ""], None),
        ("11000", ["", "", "other", "other", "other"], None),
        ("11000", ["", "", "", "", ""], None),
        ("10000", ["", "slipped", "turned_too_far", "turned_too_far", "turned_too_far"], "turned too far"),
    ],
)
def test_the_same_miss_is_said_after_three_in_a_row_of_one_cause(word, causes, why):
    found = judged(word, causes=causes)
    if why is None:
        assert found.kind != "same_miss"
    else:
        assert (found.code, found.kind, found.need) == ("look", "same_miss", ONE_THING)
        assert why in found.why


def test_one_miss_is_enough_where_the_rule_says_so_and_none_where_it_asks_for_none():
    causes = ["", "", "", "", "slipped"]
    one = judged("11110", Rule(same_misses=1), causes=causes)
    assert one.why == "The last miss had one cause: slipped. 4 of the last 5 (44 to 93 %) clean."
    assert judged("11110", Rule(same_misses=2), causes=causes).kind == ""
    assert judged("11110", Rule(same_misses=0), causes=causes).kind == ""


# Gone quiet, and changed


@pytest.mark.parametrize(
    ("later", "kind"), [(timedelta(days=14, hours=7), ""), (timedelta(days=14, hours=8), "gone_quiet")]
)
def test_quiet_is_counted_by_the_calendar(later, kind):
    assert judged("11111", later=later).kind == kind


def test_quiet_in_full():
    assert said(judged("11111", later=timedelta(days=20))) == (
        "look",
        "gone_quiet",
        "No run for 20 days; before that 5 of the last 5 (70 to 100 %) were clean.",
        "Ask the team what keeps it from running, and log one run.",
    )


@pytest.mark.parametrize(
    ("fresh_runs", "need"),
    [
        (0, "Log 1 run as things are now."),
        (1, "Log 1 run as things are now."),
        (3, "Log 3 runs as things are now."),
    ],
)
def test_a_changed_robot_in_full(fresh_runs, need):
    last = runs("1" * 12)[-1].at
    found = judged("1" * 12, Rule(fresh_runs=fresh_runs), changed_at=last + timedelta(seconds=1))
    assert said(found) == (
        "too_few",
        "stale",
        "Something has changed since the last run: the robot, its numbers or the program. Before that 12 of the last 12 "
        "(87 to 100 %) were clean.",
        need,
    )


def test_a_change_at_the_moment_of_the_last_run_is_not_since():
    last = runs("1" * 10)[-1].at
    assert judged("1" * 10, changed_at=last).code == "ready"


# What ready would still take


@pytest.mark.parametrize(
    ("word", "a_day", "dates", "need"),
    [
        ("1" * 10, 10, 2, "Ready would take runs on 1 more date."),
        ("1" * 10, 10, 3, "Ready would take runs on 2 more dates."),
        ("1" * 10, 5, 2, OPENS),
        ("1" * 9, 9, 2, "Ready would take 1 more clean run in a row and runs on 1 more date."),
    ],
)
def test_dates_that_are_missing_are_counted(word, a_day, dates, need):
    assert judged(word, Rule(dates=dates), a_day=a_day).need == need


def after_change(fresh, rule=None, **how):
    rule = rule or Rule()
    evidence = gather(runs("1" * 12, **how), rule)
    changed = evidence.last_at + timedelta(minutes=1)
    for more in range(fresh):
        run = CountedRun(True, changed + timedelta(minutes=more), how.get("times", [None])[0])
        evidence = update(evidence, run, rule, changed)
    return answer(evidence, rule, evidence.last_at, changed)


@pytest.mark.parametrize(
    ("fresh", "need"),
    [
        (1, "Ready would take 1 more clean run in a row and 2 runs more since the last change."),
        (2, "Ready would take 1 run more since the last change."),
        (3, OPENS),
    ],
)
def test_fresh_runs_that_are_missing_are_counted(fresh, need):
    assert after_change(fresh).need == need


def test_a_team_whose_robot_never_changed_is_not_asked_for_fresh_runs():
    assert judged("11", Rule(least_runs=1, clean_runs=1, clean_of=1, confidence=0.5, dates=1)).code == "ready"


def test_all_that_is_missing_stands_in_one_list():
    rule = Rule(dates=5, clean_runs=10, time_limit_s=30.0)
    found = after_change(1, rule, times=[None] * 12)
    assert found.need == (
        "Ready would take 1 more clean run in a row, runs on 1 more date, 2 runs more since the last change and "
        "at least three timed runs."
    )


def test_a_bar_that_twenty_clean_runs_do_not_reach_says_so():
    rule = Rule(target=0.97, confidence=0.95)
    found = judged("1" * 10, rule)
    assert found.clean_needed is None
    assert found.need == "Ready would take a longer spell of clean runs: over 20 in a row."


# The time


TWELVE = "1" * 12
CLEAN = "12 of the last 12 (87 to 100 %) clean: over 99 % chance that it runs clean over 65 % of the time"


@pytest.mark.parametrize(
    ("times", "why", "need"),
    [
        ([30.0] * 12, f"{CLEAN}, and 12 of 12 runs beat 30 s.", OPENS),
        ([None] * 9 + [25.0, 27.0, 26.0], f"{CLEAN}, and 3 of 3 runs beat 30 s.", OPENS),
        ([None] * 10 + [25.0, 27.0], f"{CLEAN}.", "Ready would take at least three timed runs."),
        (
            [29.0, 31.0] * 6,
            f"{CLEAN}.",
            "Ready would take faster or steadier times: so far 6 of 12 runs beat 30 s.",
        ),
        (
            [None] * 9 + [24.0, 29.9, 29.9],
            f"{CLEAN}.",
            "Ready would take faster or steadier times: so far 3 of 3 runs beat 30 s, by too little to be sure of the next one.",
        ),
        (
            [31.0] * 12,
            f"{CLEAN}.",
            "Ready would take faster or steadier times: so far 0 of 12 runs beat 30 s.",
        ),
    ],
)
def test_a_timed_tier_in_full(times, why, need):
    found = judged(TWELVE, Rule(time_limit_s=30.0), times=times)
    assert (found.why, found.need) == (why, need)


def test_a_chance_that_is_just_what_is_asked_is_enough():
    times = [29.0, 31.0] * 6
    chance = judged(TWELVE, Rule(time_limit_s=30.0), times=times).in_time
    assert judged(TWELVE, Rule(time_limit_s=30.0, time_confidence=chance), times=times).code == "ready"


@pytest.mark.parametrize(
    ("times", "limit", "chance"),
    [
        ([20.0, 20.0, 20.0], 20.0, 1.0),
        ([20.0, 20.0, 20.0], 19.9, 0.0),
        ([20.0, 20.0], 30.0, None),
        ([20.0, 20.0, None, 0.0, -4.0], 30.0, None),
        ([20.0, 20.0, 20.0, None, 0.0], 30.0, 1.0),
        ([20.0, 20.0, 20.0], None, None),
    ],
)
def test_the_chance_to_beat_the_limit_at_its_edges(times, limit, chance):
    assert chance_in_time(times, limit) == chance


# Shown, and what is needed


@pytest.mark.parametrize(
    ("word", "rule", "is_shown"),
    [
        ("1" * 10, Rule(), True),
        ("1" * 9, Rule(), False),
        ("1" * 10 + "00", Rule(confidence=0.1), True),
        ("1" * 10 + "000", Rule(confidence=0.1), False),
        ("1" * 5, Rule(clean_runs=5), True),
        ("1" * 4, Rule(clean_runs=4), False),
        ("1" * 10, Rule(confidence=0.991), False),
    ],
)
def test_success_is_shown_by_clean_runs_confidence_and_number(word, rule, is_shown):
    evidence = gather(runs(word), rule)
    assert (clean_runs_needed(evidence, rule) == 0) is is_shown


def test_an_answer_counts_the_strip_and_its_interval():
    found = judged("1110111011")
    assert (found.successes, found.of, found.clean_needed) == (8, 10, 3)
    assert (round(found.interval.low, 3), round(found.interval.high, 3)) == (0.584, 0.92)
