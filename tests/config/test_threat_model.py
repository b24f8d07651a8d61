"""The page of threats names tests that exist, and leaves none of the nineteen guards out."""

from __future__ import annotations

import functools
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "threat-model.md").read_text()
_PART = PAGE.partition("## The nineteen guards")[2].partition("\n## ")[0]
ROWS = [
    [cell.strip() for cell in line.strip("|").split(" | ")]
    for line in _PART.splitlines()
    if re.match(r"\| *\d+ \|", line)
]


@functools.cache
def functions_of(path):
    return set(re.findall(r"^def (test_\w+)", (ROOT / path).read_text(), re.MULTILINE))


def test_every_test_that_the_page_names_is_there():
    named = set(re.findall(r"`(tests/[\w/]+\.py)`", PAGE))
    assert len(named) > 15
    assert [path for path in sorted(named) if not (ROOT / path).is_file()] == []


def test_each_of_the_nineteen_guards_has_one_row():
    assert [row[0] for row in ROWS] == [str(number) for number in range(1, 20)]


@pytest.mark.parametrize("row", ROWS, ids=[row[0] for row in ROWS])
def test_a_guard_names_what_shows_it_and_its_ids(row):
    _, what, ids_of_4, ids_of_5, shown = row
    assert len(what) > 20
    for ids, whole in ((ids_of_4, r"\d+\.\d+\.\d+"), (ids_of_5, r"\d+\.\d+(\.\d+)?")):
        assert ids == "none known" or all(re.fullmatch(whole, one) for one in ids.split(", ")), ids
    assert (ids_of_4, ids_of_5) != ("none known", "none known")
    said = re.findall(r"`(tests/[\w/]+\.py)`: ((?:`test_\w+`(?:, )?)+)", shown)
    assert said and len(re.findall(r"`test_", shown)) == sum(tests.count("`test_") for _, tests in said)
    for path, tests in said:
        assert set(re.findall(r"`(test_\w+)`", tests)) <= functions_of(path), path


def test_the_page_says_that_ids_are_from_memory():
    assert "**from memory**" in _PART
