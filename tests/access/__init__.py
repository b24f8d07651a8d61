"""The access matrix: one row per address and method, nine answers each. Rows live in rows_*.py beside this file."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

ROLES = ("nobody", "team_a", "team_b", "guardian_a", "guardian_b", "observer", "assistant", "coach", "other_coach")


def _none(world: Any) -> dict[str, Any]:
    return {}


@dataclass(frozen=True)
class Row:
    """What each role gets, in the order of ROLES, such as ``"302 404 404 404 404 200 200 200 404"``.

    ``kwargs`` makes the address's arguments from the world (see tests/test_access.py): always rows of team A's club.
    ``data`` makes the body of a POST. ``headers`` are added to the request.
    """

    expect: str
    kwargs: Callable[[Any], dict[str, Any]] = _none
    data: Callable[[Any], Any] = _none
    method: str = "get"
    content_type: str | None = None

    def answers(self) -> dict[str, int]:
        return dict(zip(ROLES, map(int, self.expect.split()), strict=True))


# The usual patterns.
COACHES_ONLY = "302 404 404 404 404 200 200 200 200"  # a page about the asker's own club
COACHES_OF_CLUB = "302 404 404 404 404 200 200 200 404"  # a page about one row of the club
CHANGERS_OF_CLUB = "302 404 404 404 404 403 200 200 404"  # a form only those who may change things see
CHANGES_OF_CLUB = "302 404 404 404 404 403 302 302 404"  # a change that redirects
TEAMS_ONLY = "302 200 200 404 404 404 404 404 404"


def all_rows() -> dict[str, Row]:
    rows: dict[str, Row] = {}
    for module in sorted(pkgutil.iter_modules(__path__), key=lambda m: m.name):
        if module.name.startswith("rows_"):
            for key, row in importlib.import_module(f"{__name__}.{module.name}").ROWS.items():
                assert key not in rows, f"two rows for {key}"
                rows[key] = row
    return rows
