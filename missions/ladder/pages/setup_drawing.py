"""The set-up sheet's drawing: the table to scale, every thing with its running measures from the near left corner.

Running (superimposed) dimensions from one origin, as ISO 129-1 allows (from memory), because that is how a tape measure
is read: hooked on the table's edge once, read at every mark. Pure: lengths in mm of the table in, numbers for an SVG in
tenths of a mm of paper out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from classroom.site.figures import in_own_digits
from motion.units import format_angle, format_length, to_unit

Corners = Sequence[Sequence[float]]

#: Paper, in tenths of a mm: widest and highest that the table itself is drawn.
WIDEST, HIGHEST = 1455.0, 860.0
_LEFT, _TOP, _RIGHT, _AXIS = 260.0, 40.0, 60.0, 40.0
#: With the widest table that is what an A4 page holds between its margins.
_MOST_LEFT = 405.0
#: Also that of ``setup_drawing.css``: 4.6 mm on paper, and 2.5 mm where a packed sheet is drawn smallest.
_TEXT = 46.0
#: A letter's ring.
_RING = 28.0
#: Of a letter's height, over all the letters of a label: enough for the widest of the fonts that a screen falls back to.
_WIDE_LETTER = 0.62
_LEVEL = 52.0


@dataclass(frozen=True)
class DrawnObject:
    """Something that stands on the table, in mm. ``kind``: base, target, target-after, obstacle, keepout or start."""

    letter: str
    name: str
    kind: str
    corners: tuple[tuple[float, float], ...]

    @property
    def box(self) -> tuple[float, float, float, float]:
        xs, ys = [x for x, _y in self.corners], [y for _x, y in self.corners]
        return min(xs), max(xs), min(ys), max(ys)

    @property
    def is_square_on(self) -> bool:
        """A rectangle along the table's edges: two measures each way say all of it."""
        left, right, near, far = self.box
        ends = {(x, y) for x in (left, right) for y in (near, far)}
        return len(self.corners) == 4 and set(self.corners) == ends


@dataclass(frozen=True)
class Measure:
    """A line of the table of measures. ``corners`` is what more there is to say; the start has no letter."""

    letter: str
    name: str
    across: str
    away: str
    corners: str


@dataclass(frozen=True)
class Shape:
    kind: str
    points: str
    letter: str
    x: float
    y: float


@dataclass(frozen=True)
class RunningMeasure:
    """A running measure: where it sits, where its words are, and the lead from one to the other."""

    at: float
    words: str
    words_at: float
    level: float
    lead: str


@dataclass(frozen=True)
class Drawing:
    width: float
    height: float
    view_box: str
    table: tuple[float, float, float, float]
    shapes: tuple[Shape, ...]
    arrows: tuple[str, ...]
    across: tuple[RunningMeasure, ...]
    away: tuple[RunningMeasure, ...]
    across_y: float
    away_x: float
    extensions: tuple[str, ...]
    bar: str
    bar_words: str
    bar_x: float
    bar_y: float
    ratio: float
    text: float
    ring: float
    width_mm: float
    height_mm: float
    #: How long and how deep the table is, in the club's unit.
    size: tuple[str, str]

    @property
    def is_wide(self) -> bool:
        """So wide that its measures are too small to be read on a telephone, which shows them as a list alone."""
        return self.width > 1600.0


def drawn_objects(version: Any, tier_version: Any) -> list[DrawnObject]:
    """Base, targets, obstacles and keep-outs, lettered in that order."""
    targets = (version.target, *tier_version.more_targets)
    raw = [(_("Base"), "base", version.base)]
    raw += [(_named(target, _("Target")), "target", target["body"]) for target in targets]
    raw += [(_named(thing, _("Obstacle")), "obstacle", thing["outline"]) for thing in tier_version.obstacles]
    raw += [(_named(thing, _("Keep-out")), "keepout", thing["outline"]) for thing in tier_version.keep_outs]
    letters = "ABCDEFGHJKLMNPQRSTUVWXYZ"
    lacks = [] if version.missing is None else [version.missing.outline(version.width_mm, version.depth_mm)]
    return [DrawnObject("", _("Missing corner"), "missing", outline) for outline in lacks] + [
        DrawnObject(
            letters[i] if i < len(letters) else str(i + 1), name, kind, tuple((float(x), float(y)) for x, y in corners)
        )
        for i, (name, kind, corners) in enumerate(raw)
    ]


def _named(thing: dict[str, Any], otherwise: str) -> str:
    name = str(thing.get("name") or otherwise)
    return name[:1].upper() + name[1:]


def measures(things: Sequence[DrawnObject], unit: str) -> list[Measure]:
    """From the left edge and from the near edge, as a tape reads; corner by corner where it stands askew."""
    lines = []
    for thing in things:
        left, right, near, far = thing.box
        corners = "" if thing.is_square_on else "; ".join(_place(x, y, unit) for x, y in thing.corners)
        across, away = (
            _("%(least)s to %(most)s") % {"least": _number(low, unit), "most": _number(high, unit)}
            for low, high in ((left, right), (near, far))
        )
        lines.append(Measure(thing.letter, thing.name, across, away, corners))
    return lines


def _place(left_mm: float, near_mm: float, unit: str) -> str:
    return _("%(left)s, %(near)s") % {"left": _number(left_mm, unit), "near": _number(near_mm, unit)}


def start_measure(start: dict[str, float] | None, unit: str) -> Measure | None:
    """Where the robot is set down; None when the team chooses."""
    if start is None:
        return None
    more = _("the middle of the axle, heading %(heading)s") % {
        "heading": in_own_digits(format_angle(start["heading_deg"]))
    }
    return Measure("", _("Start place"), _number(start["x_mm"], unit), _number(start["y_mm"], unit), more)


def drawing_of(tier_version: Any, things: Sequence[DrawnObject], unit: str) -> Drawing:
    """A tier's table with the measures that setting it up takes."""
    version = tier_version.version
    start = version.start
    letters = [thing.letter for thing in things if thing.kind == "target"]
    pushes = [
        (letter, *_push_of(target))
        for letter, target in zip(letters, (version.target, *tier_version.more_targets), strict=True)
    ]
    return draw(
        version.width_mm,
        version.depth_mm,
        things,
        pushes=pushes,
        start=(start["x_mm"], start["y_mm"], start["heading_deg"]) if start else None,
        unit=unit,
    )


def _push_of(target: dict[str, Any]) -> tuple[float, float]:
    """Which way a target is pushed (degrees), and how far (mm)."""
    pose = target.get("contact") or target.get("precontact") or {}
    return float(pose.get("heading_deg", 0.0)), float(target.get("push_mm", 0.0))


def draw(
    width_mm: float,
    depth_mm: float,
    things: Sequence[DrawnObject],
    *,
    pushes: Sequence[tuple[str, float, float]] = (),
    start: tuple[float, float, float] | None,
    unit: str,
) -> Drawing:
    """The drawing.

    Parameters
    ----------
    pushes
        Of each target its letter, the push's heading in degrees, the push in mm.
    start
        (x mm, y mm, heading in degrees) of the start, or None when the team chooses.
    """
    scale = min(WIDEST / width_mm, HIGHEST / depth_mm)
    wide, deep = width_mm * scale, depth_mm * scale
    marks_x: dict[float, list[str]] = {0.0: [], width_mm: []}
    marks_y: dict[float, list[str]] = {0.0: [], depth_mm: []}
    for letter, xs, ys in [(t.letter, t.box[:2], t.box[2:]) for t in things] + (
        [(_("start"), (start[0],), (start[1],))] if start else []
    ):
        for marks, places in ((marks_x, xs), (marks_y, ys)):
            for mm in places:
                marks.setdefault(mm, []).extend([letter] if letter else [])
    longest = max(len(_words(mm, letters, unit)) for mm, letters in marks_y.items())
    margin = min(max(_LEFT, math.ceil(_AXIS + 22 + longest * _TEXT * _WIDE_LETTER)), _MOST_LEFT)

    highest = min(tick.words_at for tick in _away(marks_y, lambda mm: _TOP + deep - mm * scale, margin, unit))
    top = _TOP + math.ceil(max(0.0, _TEXT - highest))

    def x_of(mm: float) -> float:
        return round(margin + mm * scale, 1)

    def y_of(mm: float) -> float:
        return round(top + deep - mm * scale, 1)

    shapes, arrows, extensions = [], [], []
    for thing in things:
        left, right, near, far = thing.box
        shapes.append(_shape(thing.kind, thing.corners, thing.letter, x_of, y_of))
        for heading, by in (each[1:] for each in pushes if each[0] == thing.letter):
            shapes.append(_shape("target-after", _moved(thing.corners, heading, by), "", x_of, y_of))
            arrows.append(_push_arrow(thing, heading, max(by, 90.0 / scale), x_of, y_of))
        extensions += [f"M{x_of(mm)} {y_of(near)} V{round(top + deep + _AXIS, 1)}" for mm in (left, right)]
        extensions += [f"M{x_of(left)} {y_of(mm)} H{round(margin - _AXIS, 1)}" for mm in (near, far)]
    if start:
        arrows.append(_start_arrow(start, 110.0 / scale, x_of, y_of))
    across = _across(marks_x, x_of, top + deep + _AXIS, unit)
    away = _away(marks_y, y_of, margin - _AXIS, unit)
    lowest = max(tick.level for tick in across) + 12
    bar_mm, bar_words = _bar(width_mm, unit)
    bar_y = lowest + _TEXT + 6
    height = bar_y + 30
    width = margin + wide + _RIGHT
    return Drawing(
        width=round(width, 1),
        height=round(height, 1),
        view_box=f"0 0 {width:.1f} {height:.1f}",
        table=(margin, top, round(wide, 1), round(deep, 1)),
        shapes=tuple(shapes),
        arrows=tuple(arrows),
        across=across,
        away=away,
        across_y=round(top + deep + _AXIS, 1),
        away_x=round(margin - _AXIS, 1),
        extensions=tuple(dict.fromkeys(extensions)),
        bar=f"M{margin} {bar_y - 8} V{bar_y + 8} M{margin} {bar_y} h{round(bar_mm * scale, 1)} m0 -8 v16",
        bar_words=bar_words,
        bar_x=round(margin + bar_mm * scale + 14, 1),
        bar_y=round(bar_y, 1),
        ratio=10 / scale,
        text=_TEXT,
        ring=_RING,
        width_mm=round(width / 10, 1),
        height_mm=round(height / 10, 1),
        size=(_number(width_mm, unit), _number(depth_mm, unit)),
    )


def _shape(kind: str, corners: Corners, letter: str, x_of: Any, y_of: Any) -> Shape:
    points = " ".join(f"{x_of(x)},{y_of(y)}" for x, y in corners)
    middle_x, middle_y = (sum(c[i] for c in corners) / len(corners) for i in (0, 1))
    return Shape(kind, points, letter, x_of(middle_x), y_of(middle_y))


def _moved(corners: Corners, heading_deg: float, by_mm: float) -> list[tuple[float, float]]:
    dx, dy = math.cos(math.radians(heading_deg)) * by_mm, math.sin(math.radians(heading_deg)) * by_mm
    return [(x + dx, y + dy) for x, y in corners]


def _push_arrow(thing: DrawnObject, heading_deg: float, long_mm: float, x_of: Any, y_of: Any) -> str:
    """Ends on the target's face, so that it shows which face is pushed."""
    left, right, near, far = thing.box
    middle = ((left + right) / 2, (near + far) / 2)
    way = (math.cos(math.radians(heading_deg)), math.sin(math.radians(heading_deg)))
    reach = max((middle[0] - x) * way[0] + (middle[1] - y) * way[1] for x, y in thing.corners)
    back = _moved([middle], heading_deg, -reach - 0.08 * long_mm)[0]
    return _arrow(_moved([back], heading_deg, -long_mm)[0], back, x_of, y_of)


def _start_arrow(start: tuple[float, float, float], long_mm: float, x_of: Any, y_of: Any) -> str:
    x, y, heading = start
    return _arrow((x, y), _moved([(x, y)], heading, long_mm)[0], x_of, y_of)


def _arrow(tail: tuple[float, float], tip: tuple[float, float], x_of: Any, y_of: Any) -> str:
    x0, y0, x1, y1 = x_of(tail[0]), y_of(tail[1]), x_of(tip[0]), y_of(tip[1])
    way = math.atan2(y1 - y0, x1 - x0)
    barbs = [(x1 - 22 * math.cos(way + turn), y1 - 22 * math.sin(way + turn)) for turn in (0.45, -0.45)]
    (ax, ay), (bx, by) = barbs
    return f"M{x0} {y0} L{x1} {y1} M{ax:.1f} {ay:.1f} L{x1} {y1} L{bx:.1f} {by:.1f}"


def _across(marks: dict[float, list[str]], x_of: Any, axis: float, unit: str) -> tuple[RunningMeasure, ...]:
    """Words under the axis, on as many levels as keep them apart."""
    ends: list[float] = []
    ticks = []
    for mm in sorted(marks):
        words = _words(mm, marks[mm], unit)
        half = len(words) * _TEXT * 0.29 + 8
        at = x_of(mm)
        level = next((i for i, end in enumerate(ends) if at - half >= end), len(ends))
        ends[level : level + 1] = [at + half]
        y = axis + _TEXT + 4 + level * _LEVEL
        ticks.append(RunningMeasure(at, words, at, round(y, 1), f"M{at} {axis} V{y - _TEXT * 0.8:.1f}"))
    return tuple(ticks)


def _away(marks: dict[float, list[str]], y_of: Any, axis: float, unit: str) -> tuple[RunningMeasure, ...]:
    """Words left of the axis, pushed up where they would touch the one below."""
    ticks: list[RunningMeasure] = []
    last = math.inf
    for mm in sorted(marks):
        at = y_of(mm)
        words_at = min(at, last - _TEXT * 1.05)
        last = words_at
        words = _words(mm, marks[mm], unit)
        ticks.append(
            RunningMeasure(
                at,
                words,
                round(words_at + _TEXT * 0.34, 1),
                round(axis - 22, 1),
                f"M{axis} {at} L{axis - 16:.1f} {words_at:.1f}",
            )
        )
    return tuple(ticks)


def _words(mm: float, letters: list[str], unit: str) -> str:
    return f"{_number(mm, unit)} {'·'.join(dict.fromkeys(letters))}".strip()


def _number(mm: float, unit: str) -> str:
    if unit == "in":
        return in_own_digits(format_length(mm, unit, fraction=8, with_unit=False))
    return in_own_digits(format_length(mm, unit, with_unit=False))


def _bar(width_mm: float, unit: str) -> tuple[float, str]:
    """A round length near a fifth of the table."""
    goal = to_unit(width_mm, unit) / 5
    power = 10 ** math.floor(math.log10(goal))
    size = max(step * power for step in (1, 2, 5) if step * power <= goal)
    return size * width_mm / to_unit(width_mm, unit), in_own_digits(f"{size:g} {unit}")
