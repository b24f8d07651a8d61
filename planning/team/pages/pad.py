"""The pad on which a team taps where its robot met the target: plain numbers for one drawing.

Drawn as the robot comes: the target above, left on the left. Lengths in mm; up is further along the push.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from motion.units import MM_PER_UNIT, format_length

#: Misses farther out than this are not drawn: the pad would become too fine to tap on.
MOST_MM = 200.0


@dataclass(frozen=True)
class Pad:
    """``half`` reaches to each side, ``up`` and ``down`` from the wanted place; ``lines`` are the grid's."""

    half: float
    up: float
    down: float
    grid: float
    window_half: float
    window_up: float
    window_down: float
    window_words: str
    uprights: tuple[float, ...]
    levels: tuple[float, ...]
    earlier: tuple[tuple[float, float], ...]
    target: str

    @property
    def view_box(self) -> str:
        return f"{-self.half:g} {-self.up:g} {2 * self.half:g} {self.up + self.down:g}"

    @property
    def window_width(self) -> float:
        return 2 * self.window_half

    @property
    def window_height(self) -> float:
        return self.window_up + self.window_down

    @property
    def small(self) -> float:
        return self.half / 20

    @property
    def dot(self) -> float:
        return self.half / 14


def pad_for(target: Mapping[str, Any], unit: str, misses: Iterable[tuple[float | None, float | None]]) -> Pad:
    """The pad of a mission's target, with the earlier misses (lateral, along) that fall on it."""
    window = target["window"]
    lateral = float(window["lateral_mm"])
    grid = MM_PER_UNIT[unit] if unit != "mm" else 10.0
    earlier = [(-(side or 0.0), -(along or 0.0)) for side, along in misses if side is not None or along is not None]
    seen = [(x, y) for x, y in earlier if max(abs(x), abs(y)) <= MOST_MM]
    half = _reach([2.5 * lateral, 8 * grid, *(abs(x) + grid for x, _ in seen)], grid)
    up = _reach([1.5 * float(window["long_mm"]), 3 * grid, *(grid - y for _, y in seen)], grid)
    down = _reach([2.0 * float(window["short_mm"]), 5 * grid, *(y + grid for _, y in seen)], grid)
    return Pad(
        half=half,
        up=up,
        down=down,
        grid=grid,
        window_half=lateral,
        window_up=float(window["long_mm"]),
        window_down=float(window["short_mm"]),
        window_words=f"counts: {format_length(lateral, unit)} to each side",
        uprights=_lines(half, grid),
        levels=tuple(level for level in _lines(max(up, down), grid) if -up < level < down),
        earlier=tuple(seen),
        target=target.get("name") or "target",
    )


def _reach(wanted: list[float], grid: float) -> float:
    return grid * math.ceil(max(wanted) / grid)


def _lines(reach: float, grid: float) -> tuple[float, ...]:
    count = int(reach / grid)
    return tuple(k * grid for k in range(-count, count + 1))
