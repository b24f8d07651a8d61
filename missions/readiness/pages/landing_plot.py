"""The landing plot: where runs met the target, seen from above, the push to the right. Pure geometry in whole pixels.

Across: along the push, too far to the right. Up: to the left of the target's line, as a robot that drives to the
right has its left side up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from missions.runs.landing import spread
from motion.units import MM_PER_UNIT

SIZE = 320
EDGE = 34
STEPS = {"mm": (10, 20, 50, 100, 200, 500, 1000), "cm": (10, 20, 50, 100, 200, 500, 1000)}
INCH_STEPS = (0.5, 1, 2, 5, 10, 20, 40)


class LoggedLanding(NamedTuple):
    """Where a run met the target; ``counts``: it is one of those of which the page tells what they say."""

    lateral_mm: float
    along_mm: float
    success: bool
    label: str
    counts: bool = True


@dataclass(frozen=True)
class Dot:
    x: int
    y: int
    success: bool
    label: str
    counts: bool


@dataclass(frozen=True)
class AxisTick:
    at: int
    words: str


@dataclass(frozen=True)
class PlotRectangle:
    x: int
    y: int
    width: int
    height: int


@dataclass(frozen=True)
class Plot:
    """Everything the drawing needs; ``window`` is what counts as done, ``mean`` the middle of the ``counted`` landings."""

    size: int
    centre: int
    left: int
    right: int
    dots: Sequence[Dot]
    window: PlotRectangle | None
    mean: PlotRectangle | None
    x_ticks: Sequence[AxisTick]
    y_ticks: Sequence[AxisTick]
    unit: str
    counted: int


def plot_of(runs: Iterable[LoggedLanding], window: Mapping[str, Any], unit: str) -> Plot | None:
    """None when none was measured.

    ``window`` is a target's, with ``lateral_mm``, ``short_mm`` and ``long_mm``.
    """
    rows = list(runs)
    if not rows:
        return None
    lateral, short, long = (float(window.get(key, 0)) for key in ("lateral_mm", "short_mm", "long_mm"))
    reach = (
        max(lateral, short, long, *(abs(row.lateral_mm) for row in rows), *(abs(row.along_mm) for row in rows), 10.0)
        * 1.15
    )
    scale = (SIZE / 2 - EDGE) / reach
    centre = SIZE // 2

    def x(along: float) -> int:
        return round(centre + along * scale)

    def y(left: float) -> int:
        return round(centre - left * scale)

    dots = [Dot(x(row.along_mm), y(row.lateral_mm), row.success, row.label, row.counts) for row in rows]
    box = (
        PlotRectangle(x(-short), y(lateral), max(x(long) - x(-short), 1), max(y(-lateral) - y(lateral), 1))
        if lateral
        else None
    )
    counted = [row for row in rows if row.counts]
    across, ahead = spread(row.lateral_mm for row in counted), spread(row.along_mm for row in counted)
    mean = None
    if across and ahead:
        mean = PlotRectangle(
            x(ahead.mean - ahead.half),
            y(across.mean + across.half),
            max(round(2 * ahead.half * scale), 2),
            max(round(2 * across.half * scale), 2),
        )
    marks = _marks(reach, unit)
    return Plot(
        SIZE,
        centre,
        EDGE // 2,
        SIZE - EDGE // 2,
        dots,
        box,
        mean,
        [AxisTick(x(mm), words) for mm, words in marks],
        [AxisTick(y(mm), words) for mm, words in marks],
        unit,
        len(counted),
    )


def _marks(reach: float, unit: str) -> list[tuple[float, str]]:
    """Round numbers in the club's unit on both sides of zero, two or three on each."""
    per = MM_PER_UNIT[unit]
    steps = [step * per for step in INCH_STEPS] if unit == "in" else [float(step) for step in STEPS[unit]]
    step = next((one for one in steps if reach / one <= 3.5), steps[-1])
    count = math.floor(reach / step)
    return [(i * step, f"{abs(i) * step / per:g}") for i in range(-count, count + 1) if i]
