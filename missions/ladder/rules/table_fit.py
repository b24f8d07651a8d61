"""Whether what is drawn for one table can be laid on another."""

from __future__ import annotations

from dataclasses import dataclass, replace

from classroom.models import MeasuredTable
from motion.scene.records import MissingCorner

#: A tape's own error.
TAPE_MM = 1.0
#: Corners that change places when a table is turned by half: an L that lacks one can be laid on one that lacks the other.
_RISING = ("near left", "far right")
_NEXT = {"near left": "near right", "near right": "far right", "far right": "far left", "far left": "near left"}


@dataclass(frozen=True)
class TableShape:
    """A table's outline as plain values."""

    width_mm: float
    depth_mm: float
    missing: MissingCorner | None = None

    @property
    def turned(self) -> TableShape:
        """By a quarter, as one who comes to it from its side has it."""
        lacks = self.missing
        if lacks is not None:
            lacks = MissingCorner(_NEXT[lacks.corner], lacks.depth_mm, lacks.width_mm)
        return replace(self, width_mm=self.depth_mm, depth_mm=self.width_mm, missing=lacks)


def shape_of_table(table: MeasuredTable) -> TableShape:
    return TableShape(table.width_mm, table.depth_mm, table.missing)


def fits_on(need: TableShape, have: TableShape, slack_mm: float = TAPE_MM) -> bool:
    """Whether ``need`` can be laid on ``have`` as it is drawn; of two L-shapes the missing corners lie over each other.

    It is pushed into the corner across from the one that ``have`` lacks: nowhere else has it more room.

    >>> L = TableShape(2400, 1200, MissingCorner("far right", 800, 400))
    >>> fits_on(TableShape(2400, 1200), L), fits_on(TableShape(2400, 800), L), fits_on(TableShape(1600, 1200), L)
    (False, True, True)
    >>> fits_on(L, L), fits_on(L, TableShape(2400, 1200))
    (True, True)
    """

    def within(mm: float, most_mm: float) -> bool:
        return mm <= most_mm + slack_mm

    if not (within(need.width_mm, have.width_mm) and within(need.depth_mm, have.depth_mm)):
        return False
    lacks = have.missing
    if lacks is None:
        return True
    along, deep = have.width_mm - lacks.width_mm, have.depth_mm - lacks.depth_mm
    if within(need.width_mm, along) or within(need.depth_mm, deep):
        return True
    own = need.missing
    if own is None or (own.corner in _RISING) != (lacks.corner in _RISING):
        return False
    return within(need.width_mm - own.width_mm, along) and within(need.depth_mm - own.depth_mm, deep)
