"""A robot's outline between what a person can measure (a box with a tool, corner points) and polygons in mm.

Polygons are about the axle's midpoint, nose along +x, y to the left.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from classroom.errors import ClassroomCode
from motion.errors import SceneError, UnitError
from motion.scene.checks import polygon_problem
from motion.units import MM_PER_UNIT, parse_length

Footprint = list[list[list[float]]]
MOST_PARTS = 8


@dataclass(frozen=True)
class BodyWithTool:
    """A body with, perhaps, a tool at its front; ``lowered_reach_mm`` is 0 where lowering does not lengthen it."""

    ahead_mm: float
    behind_mm: float
    width_mm: float
    tool_reach_mm: float = 0.0
    tool_width_mm: float = 0.0
    tool_left_mm: float = 0.0
    lowered_reach_mm: float = 0.0


def outline_of(box: BodyWithTool) -> tuple[Footprint, Footprint | None]:
    """Travel outline and, where it differs, working outline.

    Raises
    ------
    SceneError
        When a part has no area or crosses itself.
    """
    half = box.width_mm / 2
    body = _rectangle(-box.behind_mm, box.ahead_mm, -half, half)
    right, left = box.tool_left_mm - box.tool_width_mm / 2, box.tool_left_mm + box.tool_width_mm / 2

    def with_tool(reach: float) -> Footprint:
        return [body, _rectangle(box.ahead_mm, box.ahead_mm + reach, right, left)] if reach else [body]

    travel = with_tool(box.tool_reach_mm)
    working = with_tool(box.lowered_reach_mm) if box.lowered_reach_mm else None
    for outline in (travel, working or []):
        _check(outline)
    return travel, working


def box_of(travel: Footprint, working: Footprint | None) -> BodyWithTool | None:
    """The box that an outline was made from; None when it is another shape."""
    boxes = [_bounds(part) for part in travel]
    if not 1 <= len(travel) <= 2 or any(bounds is None for bounds in boxes):
        return None
    back, front, right, left = boxes[0]  # type: ignore[misc]
    if abs(left + right) > 1e-6:
        return None
    tool = boxes[1] if len(boxes) == 2 else None
    lowered = None
    if working is not None:
        parts = [_bounds(part) for part in working]
        if len(parts) != 2 or None in parts or parts[0] != boxes[0]:
            return None
        lowered = parts[1]
        if tool is not None and lowered[2:] != tool[2:]:  # type: ignore[index]
            return None
    if any(part is not None and part[0] != front for part in (tool, lowered)):
        return None
    shown = tool or lowered
    return BodyWithTool(
        ahead_mm=front,
        behind_mm=-back,
        width_mm=left - right,
        tool_reach_mm=tool[1] - front if tool else 0.0,
        tool_width_mm=shown[3] - shown[2] if shown else 0.0,
        tool_left_mm=(shown[3] + shown[2]) / 2 if shown else 0.0,
        lowered_reach_mm=lowered[1] - front if lowered else 0.0,
    )


def points_of(text: str, unit: str) -> Footprint:
    """Outline from corner lines such as ``-5, 7.5``; an empty line starts another part.

    A number that names no unit is in ``unit``. With a semicolon between the two a comma is a decimal one.

    Raises
    ------
    SceneError
        With the line and what to do.
    """
    parts: Footprint = [[]]
    for number, line in enumerate(text.splitlines(), start=1):
        written = line.strip().strip("()[]")
        if not written:
            if parts[-1]:
                parts.append([])
            continue
        between = next((mark for mark in (";", ",") if mark in written), None)
        try:
            x, y = (round(parse_length(cell.strip(), unit), 4) for cell in written.split(between))
        except (ValueError, UnitError):
            raise SceneError(
                ClassroomCode.NOT_A_CORNER,
                _("Line %(number)s is not a corner; write two numbers in %(unit)s, such as %(example)s.")
                % {"number": number, "unit": unit, "example": corner_example(unit)},
            ) from None
        parts[-1].append([x, y])
    outline = [part for part in parts if part]
    _check(outline)
    return outline


def write_points(outline: Footprint, unit: str) -> str:
    per = MM_PER_UNIT[unit]
    return "\n\n".join("\n".join(f"{_short(x / per)}, {_short(y / per)}" for x, y in part) for part in outline)


def corner_example(unit: str) -> str:
    """A corner behind the axle and to its left, as a person would measure it."""
    return {"mm": "-50, 75", "cm": "-5, 7.5", "in": "-2, 3"}[unit]


def _short(value: float) -> str:
    return f"{round(value, 5):.12g}"


def _check(outline: Footprint) -> None:
    if len(outline) > MOST_PARTS:
        raise SceneError(
            ClassroomCode.TOO_MANY_PARTS,
            _("At most %(most)s parts; join some of them.") % {"most": MOST_PARTS},
        )
    for part in outline:
        if len(part) < 3:
            raise SceneError(ClassroomCode.TOO_FEW_CORNERS, _("Each part needs at least three corners."))
        if len(part) > 64:
            raise SceneError(ClassroomCode.TOO_MANY_CORNERS, _("Each part has at most 64 corners; leave some out."))
        if any(not abs(number) <= 1000 for corner in part for number in corner):
            raise SceneError(
                ClassroomCode.TOO_FAR,
                _("A corner lies over a metre from the axle; measure it again, and mind its unit."),
            )
        problem = polygon_problem(tuple((x, y) for x, y in part), "footprint", "outline")
        if problem is not None:
            raise problem


def _rectangle(back: float, front: float, right: float, left: float) -> list[list[float]]:
    return [[back, right], [front, right], [front, left], [back, left]]


def _bounds(part: list[list[float]]) -> tuple[float, float, float, float] | None:
    """(back, front, right, left) of an axis-parallel rectangle, None for another shape."""
    xs, ys = sorted({p[0] for p in part}), sorted({p[1] for p in part})
    corners = {(x, y) for x in xs for y in ys}
    if len(part) != 4 or len(xs) != 2 or len(ys) != 2 or {(p[0], p[1]) for p in part} != corners:
        return None
    return xs[0], xs[1], ys[0], ys[1]
