"""The parts of a session as a coach types them: rows of a name and minutes, one of them the runs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.http import QueryDict

from missions.day.rules.phases import USUAL

SPARE_ROWS = 2
MOST_ROWS = 12


@dataclass(frozen=True)
class PartRow:
    name: str
    minutes: str
    is_runs: bool


def part_rows(phases: list[Mapping[str, Any]]) -> list[PartRow]:
    """As kept, or what a first plan begins with, and rows to spare."""
    kept = [(part["name"], part["minutes"]) for part in phases] or list(USUAL)
    rows = [PartRow(name, "" if minutes is None else str(minutes), minutes is None) for name, minutes in kept]
    return (rows + [PartRow("", "", False)] * SPARE_ROWS)[:MOST_ROWS]


def typed_rows(post: QueryDict) -> list[PartRow]:
    runs = post.get("runs", "")
    pairs = list(zip(post.getlist("name"), post.getlist("minutes"), strict=False))[:MOST_ROWS]
    return [PartRow(name, minutes, runs == str(number)) for number, (name, minutes) in enumerate(pairs)]


def parts_of(rows: list[PartRow]) -> list[tuple[str, int | None]]:
    """Rows with a name; what is no number is 0, which the service refuses in words."""
    named = [row for row in rows if row.name.strip()]
    return [(row.name.strip(), None if row.is_runs else _number(row.minutes)) for row in named]


def _number(text: str) -> int:
    text = text.strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) < 5 else 0
