from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from classroom.site.tags import ago, degrees, in_unit, per_cent, seconds, thousands


@pytest.mark.parametrize(
    ("value", "words"),
    [(41.2, "41.2 s"), (59.94, "59.9 s"), (59.96, "1:00.0"), (72.4, "1:12.4"), (119.96, "2:00.0"), (None, "–")],
)
def test_a_duration_reads_like_a_stopwatch(value, words):
    assert seconds(value) == words


@time_machine.travel(dt.datetime(2026, 11, 25, 12, 0, tzinfo=dt.UTC))
@pytest.mark.parametrize(
    ("days", "words"), [(0, "today"), (1, "yesterday"), (13, "13 days ago"), (21, "3 weeks ago"), (90, "3 months ago")]
)
def test_how_long_since_is_said_in_a_coach_s_words(days, words):
    assert ago(dt.datetime(2026, 11, 25, 9, 0, tzinfo=dt.UTC) - dt.timedelta(days=days)) == words


def test_numbers_that_are_not_there_are_a_dash():
    assert [f(None) for f in (ago, degrees, in_unit, per_cent)] == ["never", "–", "–", "–"]


def test_a_large_number_is_read_by_its_thousands():
    assert [thousands(n) for n in (0, 999, 20_000, 1_234_567)] == ["0", "999", "20,000", "1,234,567"]
