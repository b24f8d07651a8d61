"""How the club's log names what it tells of. Each layer above adds its own kinds, since this one does not know them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping

from classroom.models import Club

Namer = Callable[[Club, Collection[int]], Mapping[int, str]]
_NAMERS: dict[str, Namer] = {}


def name_in_log(kind: str, namer: Namer) -> None:
    """From now on ``kind:12`` in the log reads as ``namer`` has it; rows that are gone keep their code."""
    _NAMERS[kind] = namer


def names_by(kind: str, club: Club, keys: Collection[int]) -> Mapping[int, str]:
    namer = _NAMERS.get(kind)
    return namer(club, keys) if namer else {}
