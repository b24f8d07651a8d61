"""The pad on which a team taps where its robot met the target: plain numbers for one drawing.

Drawn as the robot comes: the target above, left on the left. Lengths in mm; up is further along the push.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from classroom.site.figures import length_said
from motion.units import MM_PER_UNIT

#: Misses farther out than this are not drawn: the pad would become too fine to tap on.
MOST_MM = 200.0


@dataclass(frozen=True)
class PadChoice:
    """One of several targets to have measured at: its window as the drawing has it, and the words beside."""

    number: int
    name: str
    half: float
    up: float
    down: float
    words: str
    chosen: bool


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
    choices: tuple[PadChoice, ...] = ()

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


def pad_for(
    targets: Sequence[Mapping[str, Any]],
    unit: str,
    misses: Iterable[tuple[int, float | None, float | None]],
    *,
    at: str = "",
) -> Pad:
    """The pad of a tier's targets, with the earlier misses (at which, lateral, along) at the chosen one that fall on it."""
    chosen = int(at) if at.isdecimal() and int(at) < len(targets) else 0
    windows = [target["window"] for target in targets]
    window = windows[chosen]
    lateral = float(window["lateral_mm"])
    grid = MM_PER_UNIT[unit] if unit != "mm" else 10.0
    own = [(side, along) for where, side, along in misses if where == chosen]
    earlier = [(-(side or 0.0), -(along or 0.0)) for side, along in own if side is not None or along is not None]
    seen = [(x, y) for x, y in earlier if max(abs(x), abs(y)) <= MOST_MM]
    widest = {key: max(float(each[key]) for each in windows) for key in ("lateral_mm", "long_mm", "short_mm")}
    half = _reach([2.5 * widest["lateral_mm"], 8 * grid, *(abs(x) + grid for x, _ in seen)], grid)
    up = _reach([1.5 * widest["long_mm"], 3 * grid, *(grid - y for _, y in seen)], grid)
    down = _reach([2.0 * widest["short_mm"], 5 * grid, *(y + grid for _, y in seen)], grid)
    return Pad(
        half=half,
        up=up,
        down=down,
        grid=grid,
        window_half=lateral,
        window_up=float(window["long_mm"]),
        window_down=float(window["short_mm"]),
        window_words=_window_words(lateral, unit),
        uprights=_lines(half, grid),
        levels=tuple(level for level in _lines(max(up, down), grid) if -up < level < down),
        earlier=tuple(seen),
        target=_name_of(targets, chosen),
        choices=tuple(
            PadChoice(
                number,
                _name_of(targets, number),
                float(each["lateral_mm"]),
                float(each["long_mm"]),
                float(each["short_mm"]),
                _window_words(float(each["lateral_mm"]), unit),
                number == chosen,
            )
            for number, each in enumerate(windows)
            if len(windows) > 1
        ),
    )


def _window_words(lateral_mm: float, unit: str) -> str:
    return _("counts: %(size)s to each side") % {"size": length_said(lateral_mm, unit)}


def _name_of(targets: Sequence[Mapping[str, Any]], number: int) -> str:
    name = str(targets[number].get("name") or "")
    return name or (_("target") if len(targets) == 1 else _("target %(number)s") % {"number": number + 1})


def _reach(wanted: list[float], grid: float) -> float:
    return grid * math.ceil(max(wanted) / grid)


def _lines(reach: float, grid: float) -> tuple[float, ...]:
    count = int(reach / grid)
    return tuple(k * grid for k in range(-count, count + 1))
