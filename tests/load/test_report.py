"""What the report of a crowd counts."""

from __future__ import annotations

from tests.load.crowd import Seen
from tests.load.report import Cost, counted


def test_a_run_without_its_row_one_with_two_and_a_strange_one_are_seen():
    class House:
        def rows(self, question):
            return [("aa",), ("aa",), ("cc",)]

    class Crowd:
        seen = Seen(kept={"aa", "bb"}, sent={"aa", "bb"})

    nothing = Cost({}, {}, 0.0)
    report = counted(House(), Crowd(), "a trial", 1.0, nothing, nothing)
    assert (report.lost, report.doubled, report.strange) == (1, 1, 1)
    assert report.falls_short == ["1 lost", "1 doubled", "1 of nobody"]
