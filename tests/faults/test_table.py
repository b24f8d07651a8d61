"""The page of faults names those that there are, and a fault says what it does."""

from __future__ import annotations

import importlib
import inspect
import re

import pytest

from tests.faults import database, disk, fault, report
from tests.faults.fault import FAULTS, GROUPS, Row
from tests.faults.ledger import Count
from tests.faults.people import Seen, words_of

for group in GROUPS:
    importlib.import_module(f"tests.faults.{group}")
PAGE = report.PAGE.read_text()


def test_the_page_has_a_row_for_each_fault_and_no_other():
    rows = re.findall(r"^\| (\w+\.\w+) \|", PAGE.split(report.MEASURED)[1], re.MULTILINE)
    assert sorted(rows) == sorted(one.name for one in FAULTS)


def test_each_fault_has_a_sentence_of_its_own():
    sentences = [one.sentence for one in FAULTS]
    assert len(set(sentences)) == len(sentences) > 20
    assert [one for one in sentences if not one.endswith(".")] == []


def test_every_group_has_faults_and_every_file_of_faults_is_a_group():
    assert {one.name.split(".")[0] for one in FAULTS} == set(GROUPS)
    folder = report.ROOT / "tests" / "faults"
    marked = {path.stem for path in folder.glob("*.py") if "\n@fault(" in path.read_text()}
    assert marked == set(GROUPS)


@pytest.mark.parametrize("name", ["lost", "doubled", "evidence_off", "jobs_lost", "not_once"])
def test_each_thing_that_is_counted_can_fall_short(name):
    assert len(Count(**{name: 1}).wrong()) == 1 and Count().wrong() == []


@pytest.mark.parametrize(
    ("status", "text", "bare"),
    [
        (200, "", False),
        (500, "<h1>Server Error (500)</h1>", True),
        (500, "", True),
        (503, "<h1>Away</h1> <p>The records cannot be reached just now.</p>", False),
        (503, '{"code": "away", "words": "Away."}', False),
        (503, '{"code": "away"}', True),
        (502, "{", True),
    ],
)
def test_an_error_is_bare_when_it_has_no_heading_and_sentence(status, text, bare):
    assert Seen("tablet", status, words_of(text), 0.1, 0.0).is_bare is bare


def test_what_stands_above_the_table_is_kept_and_a_row_that_was_not_run_says_why():
    row = Row(FAULTS[0], not_run="mounting needs root")
    page = report.written("# Above\n\n## Measured\n\nold", [row], (1.0, 2.0))
    assert page.startswith("# Above\n\n## Measured\n\n`make faults` on ")
    assert "\nold" not in page and page.rstrip().endswith("| not run: mounting needs root |")


def test_rows_that_were_not_tried_this_time_stay_as_they_were_measured_and_where():
    first, second, third = (Row(one, note="then") for one in FAULTS[:3])
    order = [one.name for one in FAULTS]
    then = report.written("# Above\n\n## Measured\n\nold", [first, third], (1.0, 2.0))
    now = report.written(then, [second], (3.0, 4.0), order)
    names = re.findall(r"^\| (\w+\.\w+) \|", now, re.MULTILINE)
    assert names == order[:3]
    assert now.count("`make faults` on ") == 1 and f'`make faults ONLY="{order[1]}"` on ' in now
    again = report.written(now, [Row(FAULTS[1], note="at last")], (3.0, 4.0), order)
    assert again.count("(at last)") == 1 and again.count("(then)") == 2 and again.count("ONLY=") == 1


def test_a_fault_that_cannot_be_tried_is_not_passed_over(monkeypatch):
    house = type("House", (), {"no_disk": "mounting needs root"})()
    for harm in (disk.full, disk.read_only):
        assert list(inspect.signature(harm).parameters) == ["house", "people"]
        with pytest.raises(fault.NotRunHereError, match="needs root"):
            harm(house, None)
    postgres = type("Postgres", (), {"take_disk": lambda self, megabytes: (None, "mounting needs root")})()
    with pytest.raises(fault.NotRunHereError, match="needs root"):
        database.disk_full(type("Server", (), {"postgres": postgres})(), None)
