"""Which column of a pasted table is what: guessed from its heading and its cells, said to the coach, changed by the coach."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

Rows = Sequence[tuple[int, list[str]]]
_NAME_WORDS = set(
    "name names nickname nicknames firstname child children kid kids member members pupil pupils student students "
    "vorname vornamen rufname spitzname kind kinder prénom prenom nom enfant nombre nome naam voornaam".split()
)
_TEAM_WORDS = set(
    "team teams group groups crew squad gruppe gruppen mannschaft équipe equipe groupe equipo grupo squadra gruppo ploeg "
    "groep".split()
)
_FILLERS = set("of the a first their s de der des das du".split())
_NUMBER = re.compile(r"\d{1,4}[.)]?")
_NUMBERED = re.compile(r"\d{1,4}[.)]\s*(?=\S)")


@dataclass(frozen=True)
class RosterColumns:
    """Columns from 0; ``team_at`` is None where no team stands in the table. ``heads`` are the names of the columns."""

    name_at: int
    team_at: int | None
    has_head: bool
    heads: tuple[str, ...] = ()

    @property
    def mark(self) -> str:
        """Of the choice, for the form that carries it."""
        return f"{self.name_at}-{self.team_at}-{self.has_head}"


def guess_columns(rows: Rows) -> RosterColumns:
    first = rows[0][1]
    kinds = [_kind_of(cell) for cell in first]
    has_head = any(kinds)
    body = rows[1:] if has_head else rows
    width = max(len(cells) for _number, cells in rows)
    free = [at for at in range(width) if not _is_numbers(body, at)]
    name_at = kinds.index("name") if "name" in kinds else None
    team_at = kinds.index("team") if "team" in kinds else None
    if name_at is None:
        name_at = next((at for at in free if at != team_at), 0)
    if team_at is None and not has_head:
        team_at = next((at for at in free if at > name_at), None)
    return named_columns(rows, name_at, team_at, has_head)


def named_columns(rows: Rows, name_at: int, team_at: int | None, has_head: bool) -> RosterColumns:
    """As chosen; a column that the table has not is none."""
    width = max(len(cells) for _number, cells in rows)
    first = rows[0][1]
    heads = tuple(_head(at, first, has_head) for at in range(width))
    return RosterColumns(
        min(max(name_at, 0), width - 1),
        team_at if team_at is not None and 0 <= team_at < width else None,
        has_head,
        heads,
    )


def children_in(rows: Rows, columns: RosterColumns) -> list[tuple[int, str, str]]:
    """(line, name, team) under the heading. The numbers of a list that is numbered throughout are taken off the names."""
    body = [
        (number, _cell(cells, columns.name_at), _cell(cells, columns.team_at))
        for number, cells in (rows[1:] if columns.has_head else rows)
    ]
    if body and all(_NUMBERED.match(name) for _, name, _ in body if name):
        body = [(number, _NUMBERED.sub("", name, count=1), team) for number, name, team in body]
    return body


def _kind_of(cell: str) -> str:
    words = re.findall(r"[^\W\d_]+", cell.lower())
    if not words or re.search(r"\d", cell) or not set(words) <= _NAME_WORDS | _TEAM_WORDS | _FILLERS:
        return ""
    if set(words) & _TEAM_WORDS:
        return "team"
    return "name" if set(words) & _NAME_WORDS else ""


def _is_numbers(rows: Rows, at: int) -> bool:
    cells = [cell for cell in (_cell(cells, at) for _number, cells in rows) if cell]
    return bool(cells) and all(_NUMBER.fullmatch(cell) for cell in cells)


def _cell(cells: list[str], at: int | None) -> str:
    return cells[at].strip() if at is not None and at < len(cells) else ""


def _head(at: int, first: list[str], has_head: bool) -> str:
    shown = _cell(first, at)[:24]
    if not shown:
        return _("column %(number)s") % {"number": at + 1}
    said = _("column %(number)s: %(shown)s") if has_head else _("column %(number)s: %(shown)s …")
    return said % {"number": at + 1, "shown": shown}
