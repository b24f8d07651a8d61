"""The page about a million clubs says what its arithmetic says."""

from __future__ import annotations

import re

import pytest

from classroom.models import Club
from docs.scale import Assumed, figures, table
from tests.config.test_server_settings import ROOT

PAGE = (ROOT / "docs" / "scale.md").read_text()


def test_the_table_of_the_page_is_the_one_that_is_worked_out():
    assert table() in PAGE


@pytest.mark.parametrize(
    ("words", "numbers"),
    [
        ("teams of a club", (Assumed.teams,)),
        ("sessions a year, hours of a session", (Assumed.sessions, Assumed.hours)),
        ("runs of a team in a session", (Assumed.runs,)),
        ("how long runs are kept", (round(Assumed.years_kept * 365),)),
        ("clubs on at the busiest moment", (round(100 * Assumed.on_at_once), 100)),
        ("bytes of a run with its indexes", (Assumed.bytes_a_run,)),
        ("all other tables, as a share of the runs", (Assumed.bytes_beside,)),
        ("a tablet asks for news each", (Assumed.news_every_s,)),
        ("a board asks each", (Assumed.board_every_s,)),
        ("pages that a club opens in an hour", (Assumed.pages_an_hour,)),
        (
            "processor time of a saved run, a quiet poll, a changed board, a page",
            (Assumed.save_ms, Assumed.poll_ms, Assumed.board_ms, Assumed.page_ms),
        ),
        ("processor time of PostgreSQL", (Assumed.database_share,)),
        ("courses asked for, a team and session; processor time of one", (Assumed.plans, Assumed.plan_s)),
        ("processors of a machine", (Assumed.cores,)),
        ("clubs of one database", (Assumed.clubs_a_database,)),
        ("price of a processor and hour, of a gigabyte and month", (Assumed.core_hour, Assumed.gigabyte_month)),
    ],
)
def test_each_assumption_stands_in_the_page(words, numbers):
    (row,) = [line for line in PAGE.split("## What comes of it")[0].splitlines() if line.startswith(f"| {words}")]
    said = [float(one.replace(",", "")) for one in re.findall(r"\d[\d,.]*\d|\d", row.split("|")[2])]
    assert said == [float(number) for number in numbers]


def test_what_the_code_says_is_what_is_assumed():
    assert Club._meta.get_field("retention_days").default == round(Assumed.years_kept * 365)


def test_twice_the_clubs_are_twice_the_rows_and_requests():
    one, two = figures(Assumed(clubs=50_000)), figures(Assumed(clubs=100_000))
    for name in ("runs a year", "requests a second", "gigabytes of one copy", "price a month"):
        assert two[name] == pytest.approx(2 * one[name])
