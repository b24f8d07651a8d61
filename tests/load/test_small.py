"""A small crowd in a hurry: what it sends is there once, and everybody is answered."""

from __future__ import annotations

import pytest

from tests.faults.server import why_no_server
from tests.load.__main__ import loaded
from tests.load.crowd import Seen
from tests.load.report import told

TABLETS, SECONDS, HURRY = 20, 6.0, 20.0
WHY = why_no_server()


@pytest.fixture
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("load")
    for each in (made, *made.parents[:2]):
        each.chmod(0o711)  # PostgreSQL's own user passes through
    return made


def holds(report):
    words = told(report, most_s=None)  # no test measures a time
    assert report.falls_short == [], words
    assert report.kept >= TABLETS and report.lost == report.doubled == report.strange == 0
    assert report.took_s["tablet: news, unchanged"] and report.took_s["board"]
    spent = {view for view, one in report.after.views.items() if one["processor_s"] > 0}
    assert {"team_runs", "team_news", "board"} <= spent
    return words


@pytest.mark.slow
@pytest.mark.postgres
@pytest.mark.redis
@pytest.mark.skipif(bool(WHY), reason=WHY or "it is there")
def test_on_a_server_nothing_is_lost_doubled_or_refused(folder):
    words = holds(loaded(laptop=False, tablets=TABLETS, clubs=3, boards=1, seconds=SECONDS, hurry=HURRY, folder=folder))
    assert "postgresql" in words and "the crowd itself" in words


@pytest.mark.slow
def test_on_a_laptop_neither(folder):
    holds(loaded(laptop=True, tablets=TABLETS, clubs=1, boards=3, seconds=SECONDS, hurry=HURRY, folder=folder))


def test_a_run_without_its_row_is_seen():
    from tests.load.report import Cost, counted

    class House:
        def rows(self, question):
            return [("aa",), ("aa",), ("cc",)]

    class Crowd:
        seen = Seen(kept={"aa", "bb"}, sent={"aa", "bb"})

    nothing = Cost({}, {}, 0.0)
    report = counted(House(), Crowd(), "a trial", 1.0, nothing, nothing)
    assert (report.lost, report.doubled, report.strange) == (1, 1, 1)
    assert report.falls_short == ["1 lost", "1 doubled", "1 of nobody"]
