"""How small a set-up sheet must be set to stay on one page of A4 or letter. An estimate by characters and lines. Pure.

The sizes here are those of ``static/missions/ladder/setup_sheets.css``; a browser test prints full sheets and counts the pages.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

#: What both papers have room for with our margins, in mm: the height of letter, less what the estimate may be wrong by,
#: and the width of A4.
HEIGHT_MM, WIDTH_MM = 252.0, 190.0
_MM_PER_PT = 0.3528


@dataclass(frozen=True)
class Density:
    """A size of type and how much of its full size the drawing has."""

    name: str
    type_pt: float
    drawing: float


DENSITIES = (
    Density("loose", 10.5, 1.0),
    Density("dense", 9.5, 0.85),
    Density("packed", 8.5, 0.7),
    Density("tight", 7.5, 0.55),
)


def density_for(
    drawing_mm: float, measures: Sequence[str], steps: Sequence[str], cautions: Sequence[str], notes: str
) -> Density:
    """The loosest that fits; the tightest when none does (the sheet then goes on to a second page, nothing is lost)."""
    for density in DENSITIES:
        if _height_mm(density, drawing_mm, measures, steps, cautions, notes) <= HEIGHT_MM:
            return density
    return DENSITIES[-1]


def _height_mm(
    density: Density,
    drawing_mm: float,
    measures: Sequence[str],
    steps: Sequence[str],
    cautions: Sequence[str],
    notes: str,
) -> float:
    line = density.type_pt * _MM_PER_PT * 1.35
    letter = density.type_pt * _MM_PER_PT * 0.48
    column = (WIDTH_MM / 2 - 10) / letter
    body = max(
        2.6 + sum(1.3 * _lines(text, column) for text in measures), 1.2 + sum(_lines(text, column) for text in steps)
    )
    small = 0.86
    in_columns = sum(_lines(text, column / small) + 0.2 for text in cautions) / 2 + 1
    across = 1.5 + _lines(notes, 2 * column / small)
    return 13 + drawing_mm * density.drawing + body * line + (in_columns + across) * line * small + 10


def _lines(text: str, column: float) -> int:
    return max(1, math.ceil(len(text) / column))
