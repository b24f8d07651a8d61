"""The editor's map as the server draws it: the same shapes that the script draws, for pages without one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from missions.editor.rules.sheet import MissionSheet
from motion.errors import UnitError
from motion.scene.records import MISSING_CORNERS, MissingCorner
from motion.units import parse_angle, parse_length

EDGE_MM = 40.0
GRID_MM = 100.0


@dataclass(frozen=True)
class ChartOutline:
    """``points`` as SVG wants them; y grows downwards there."""

    key: str
    layer: str
    name: str
    points: str
    label_x: float
    label_y: float


@dataclass(frozen=True)
class Arrow:
    """A pose: where, and the heading as SVG turns (clockwise)."""

    x: float
    y: float
    turn: float


@dataclass(frozen=True)
class Chart:
    width: float
    depth: float
    view_box: str
    grid_x: tuple[float, ...]
    grid_y: tuple[float, ...]
    text_size: float
    outlines: tuple[ChartOutline, ...]
    start: Arrow | None
    contacts: tuple[Arrow, ...]
    missing: tuple[float, float, float, float]


def chart_of(sheet: MissionSheet) -> Chart | None:
    """What the sheet's numbers draw, shapes with an unreadable number left out; None without a table size."""
    width, depth = (_length(sheet.numbers[side], sheet.unit) for side in ("width", "depth"))
    if width is None or depth is None or not (100 <= width <= 20_000 and 100 <= depth <= 20_000):
        return None
    outlines = []
    for shape in sheet.shapes:
        if shape.tier not in ("", sheet.shown):
            continue
        points = [(_length(x, sheet.unit), _length(y, sheet.unit)) for x, y in shape.corners]
        known = [(x, depth - y) for x, y in points if x is not None and y is not None]
        if len(known) != len(points) or len(known) < 3:
            continue
        x, y = _label_place(shape.layer, known, width / 55)
        text = " ".join(f"{a:.1f},{b:.1f}" for a, b in known)
        outlines.append(ChartOutline(shape.key, shape.layer, _label(shape.layer, shape.name, sheet), text, x, y))
    return Chart(
        width=width,
        depth=depth,
        view_box=f"{-EDGE_MM:g} {-EDGE_MM:g} {width + 2 * EDGE_MM:g} {depth + 2 * EDGE_MM:g}",
        grid_x=tuple(i * GRID_MM for i in range(1, math.ceil(width / GRID_MM))),
        grid_y=tuple(depth - i * GRID_MM for i in range(1, math.ceil(depth / GRID_MM))),
        text_size=round(width / 55, 1),
        outlines=tuple(outlines),
        start=None if sheet.start_is_free else _arrow(sheet, "start", depth),
        contacts=tuple(arrow for arrow in _contacts(sheet, depth) if arrow is not None),
        missing=_missing(sheet, width, depth),
    )


def _missing(sheet: MissionSheet, width: float, depth: float) -> tuple[float, float, float, float]:
    """Where an L-shaped table is none: left, top, width, height as SVG has them; nothing of a rectangle."""
    along, deep = (_length(sheet.numbers[f"missing_{side}"], sheet.unit) for side in ("width", "depth"))
    if sheet.missing_corner not in MISSING_CORNERS or not along or not deep or along >= width or deep >= depth:
        return (0.0, 0.0, 0.0, 0.0)
    (left, _near), (_right, far) = MissingCorner(sheet.missing_corner, along, deep).outline(width, depth)[::2]
    return (left, depth - far, along, deep)


def _label(layer: str, name: str, sheet: MissionSheet) -> str:
    if layer == "body":
        return sheet.target_name.strip() or _("target")
    usual = {"base": _("base"), "obstacle": _("obstacle"), "keep_out": _("keep out"), "target": _("target")}
    return name.strip() or usual[layer]


def _contacts(sheet: MissionSheet, depth: float) -> list[Arrow | None]:
    """Where the mission's target is met, and those of the tier that is shown."""
    further = [_arrow(sheet, "contact", depth, shape.numbers) for shape in sheet.shapes_of("target", sheet.shown)]
    return [_arrow(sheet, "contact", depth), *further]


def _arrow(sheet: MissionSheet, which: str, depth: float, numbers: dict[str, str] | None = None) -> Arrow | None:
    numbers = sheet.numbers if numbers is None else numbers
    x, y = (_length(numbers[f"{which}_{axis}"], sheet.unit) for axis in "xy")
    try:
        heading = parse_angle(numbers[f"{which}_heading"])
    except UnitError:
        return None
    return None if x is None or y is None else Arrow(x, depth - y, -heading)


def _length(text: str, unit: str) -> float | None:
    try:
        return parse_length(text, unit)
    except UnitError:
        return None


def _label_place(layer: str, points: Sequence[tuple[float, float]], em: float) -> tuple[float, float]:
    """In the middle; the base's name at its near edge, the target's above it (y grows downwards here)."""
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    y = {"base": max(ys) - em, "body": min(ys) - em, "target": min(ys) - em}.get(layer, (min(ys) + max(ys)) / 2)
    return (min(xs) + max(xs)) / 2, y
