"""What the next tier needs, as a team reads it on its tablet."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from missions.models import Progress, ProgressState, Tier
from missions.readiness.pages.tablet_need import need_heading, need_in_words, why_in_words
from missions.readiness.rules.answer import ReadinessAnswer, answer
from missions.readiness.rules.evidence import CountedRun, Rule, gather

FIRST = datetime(2026, 9, 1, 16, tzinfo=UTC)
WORKING, PASSED = Progress(state=ProgressState.WORKING), Progress(state=ProgressState.PASSED)
TIMED = Tier(order=3, name="Timed")


def seen(word: str, rule: Rule | None = None, *, a_day: int = 50, later: int = 0, cause: str = "") -> ReadinessAnswer:
    """What the rule answers to runs written as ones (clean) and noughts, so many of them a day."""
    rule = rule or Rule()
    runs = [
        CountedRun(letter == "1", FIRST + timedelta(days=i // a_day, minutes=i), 30.0 + i % 3, cause * (letter == "0"))
        for i, letter in enumerate(word)
    ]
    evidence = gather(runs, rule)
    return answer(evidence, rule, (evidence.last_at or FIRST) + timedelta(days=later))


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (seen(""), "Log the first of at least five runs."),
        (seen("111"), "Log two more runs."),
        (
            seen("1111111111"),
            "Still to show: runs on one more day. Then your coach opens 3 Timed.",
        ),
        (
            seen("110110110", a_day=5),
            "Still to show: eight more clean runs in a row. Then your coach opens 3 Timed.",
        ),
        (
            seen("110110110"),
            "Still to show: nine more clean runs in a row and runs on one more day. Then your coach opens 3 Timed.",
        ),
        (seen("1111111111", a_day=5), "You have shown it. Your coach opens 3 Timed."),
        (seen("1111", later=40), "It is a while since your last run here. Log one to see where you are."),
        (
            seen("0101000", cause="too_long"),
            "The same thing goes wrong each time. Change one thing that answers it, then run again.",
        ),
    ],
)
def test_a_team_reads_what_is_still_to_show_in_plain_words(found: ReadinessAnswer, words: str) -> None:
    assert need_in_words(WORKING, found, TIMED) == words


def test_against_the_clock_it_says_how_many_runs_were_fast_enough() -> None:
    found = seen("1111111111", Rule(time_limit_s=30.5), a_day=5)
    words = need_in_words(WORKING, found, None)
    assert "faster or steadier times: so far 4 of 10 runs beat 30.5 s" in words
    assert "%" not in words


def test_the_last_tier_speaks_of_no_next_one() -> None:
    ready = seen("1111111111", a_day=5)
    assert need_in_words(WORKING, ready, None) == "You have shown it. Your coach marks it as passed."
    assert need_heading(WORKING, None) == "What is left to show"
    assert need_heading(WORKING, TIMED) == "What 3 Timed needs"
    assert need_heading(PASSED, TIMED) == "This tier is done"


def test_what_it_rests_on_are_the_teams_own_runs_without_percentages() -> None:
    assert why_in_words(seen("")) == ""
    assert why_in_words(seen("110110110")) == "6 of your last 9 runs were clean."
    assert why_in_words(seen("1")) == "One run so far, clean."
    assert why_in_words(seen("1111", later=40)) == "No run for 40 days; before that 4 of the last 4 were clean."
