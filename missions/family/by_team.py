"""All families of a club team by team, and the ones that a name is looked for in. Pure."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from classroom.models import Membership, Team

#: So many children at most are shown unasked; with more, teams are folded.
SHOWN_AT_ONCE = 30


@dataclass(frozen=True)
class TeamFamilies:
    """A team's children, and whether their names are shown at once."""

    team: Team
    rows: tuple[Membership, ...]
    is_open: bool

    @property
    def with_words(self) -> int:
        """Of how many children a coach has approved words: ``approved``, as the page prefetches them."""
        return sum(bool(row.member.approved) for row in self.rows)  # type: ignore[attr-defined]


def by_team(rows: Iterable[Membership], find: str = "") -> list[TeamFamilies]:
    """Team by team, in the order that they come in.

    Parameters
    ----------
    find
        A piece of a child's or a team's name; who has none of it is left out. Empty for all.
    """
    sought = _plain(find)
    found = [row for row in rows if sought in _plain(row.member.nickname) or sought in _plain(row.team.name)]
    is_open = bool(sought) or len(found) <= SHOWN_AT_ONCE
    return [TeamFamilies(team, tuple(rows), is_open) for team, rows in groupby(found, key=lambda row: row.team)]


def _plain(name: str) -> str:
    """As it is looked for: no capitals, no accents, no spaces around it."""
    apart = unicodedata.normalize("NFKD", name.strip().casefold())
    return "".join(letter for letter in apart if not unicodedata.combining(letter))
