"""Why there is no course: the reason in words, and the tightest place on the way, measured.

First the poses that no course can avoid are looked at. Then a point with a disc around it, the largest that fits into
the body about the axle: where even the disc cannot pass, no robot of that body can, whatever its heading. The widest
way for a disc gives the tightest place: no other way has a wider bottleneck (to within the map's 10 mm). It is named
only where two things really face each other across it and the robot needs more than they leave.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry import Polygon as ShapelyPolygon

from motion.course.actions import Action, Drive, Push
from motion.course.sentences import _, capital, numeral
from motion.errors import MotionCode, NoCourseError
from motion.ground.clearance import EDGE_NAMES, Stage, action_room, pushed_body, target_name, wall_outlines
from motion.ground.geometry import body_of
from motion.ground.named import with_article
from motion.scene.records import Pose, Scene
from motion.search.kernels.widest import widest_way
from motion.search.phases import Phases, push_end
from motion.units import format_length

CELL_MM = 10.0
#: The search's resolution, in words.
RESOLUTION = _("a 7 cm grid, the corners of everything and every narrow gap, with all headings")


def explain_no_course(scene: Scene, phases: Phases, half: str, tick: Callable[[], None]) -> NoCourseError:
    """The error to raise when no way was found on one half of the course.

    Parameters
    ----------
    half
        ``"out"`` or ``"home"``.
    tick
        Called now and then; may raise to stop.
    """
    blocked = _blocked_pose(scene, phases, half)
    if blocked is not None:
        return blocked
    tick()
    tightest = tightest_place(scene, half)
    tick()
    return _in_words(half, tightest)


def surely_none(scene: Scene, phases: Phases, half: str) -> bool:
    """Whether no course can exist at any resolution: a pose it needs is not clear, or not even a disc gets through.

    The disc is the largest about the axle that the body (with its margin) contains; the map's cell is allowed for.
    """
    return _blocked_pose(scene, phases, half) is not None or _disc_stopped(scene, half)


@lru_cache(maxsize=16)
def _disc_stopped(scene: Scene, half: str) -> bool:
    """Whether not even the disc gets through (remembered for the last scenes asked)."""
    room_map = _room_map(scene, half)
    spot = _bottleneck(room_map, scene, half)
    if spot is None:
        return True
    room = float(shapely.distance(Point(spot), shapely.union_all(room_map.things)))
    return room + room_map.cell < _disc(scene)


def _disc(scene: Scene) -> float:
    """Radius of the largest disc about the axle in one part of the body with its margin."""
    body = body_of(scene.robot.footprint, scene.margin_mm)
    return max(float(body.sides["support"][part["first"] : part["last"]].min()) for part in body.parts)


def _goal(scene: Scene, half: str) -> tuple[float, float]:
    """Where the half's way must reach from: the pre-contact pose, or the least back off the target."""
    if half == "out":
        return scene.target.precontact.x_mm, scene.target.precontact.y_mm
    end = push_end(scene)
    off = push_end(scene, end, -scene.robot.min_back_off_mm)
    return off.x_mm, off.y_mm


def _in_words(half: str, tightest: dict[str, Any] | None) -> NoCourseError:
    where = _("from the start to the target") if half == "out" else _("from the target back into the base")
    if tightest is None:
        return NoCourseError(
            MotionCode.NO_COURSE,
            _(
                "No clear way was found {where} (looked on {resolution}); make more room.",
                where=where,
                resolution=RESOLUTION,
            ),
        )
    gap, needed = tightest["gap_mm"], tightest["needed_mm"]
    first, second = (with_article(name) for name in tightest["between"])
    if gap < 1.0:
        message = _(
            "{first} and {second} leave no gap between them to drive through; move one of them.",
            first=capital(first),
            second=second,
        )
        return NoCourseError(MotionCode.NO_GAP, message, tightest)
    if tightest["to"] == "drive through":
        message = _(
            "The gap between {first} and {second} is {gap} cm; your robot needs {needed} cm to drive through.",
            first=first,
            second=second,
            gap=numeral(_cm(gap)),
            needed=numeral(_cm(needed)),
        )
        return NoCourseError(MotionCode.GAP_TOO_NARROW, message, tightest)
    message = _(
        "No clear way was found {where} (looked on {resolution}). The tightest place on the way, between {first} and {second}, is {gap} cm wide: enough to drive straight through, but your robot needs {needed} cm to turn there.",
        where=where,
        resolution=RESOLUTION,
        first=first,
        second=second,
        gap=numeral(_cm(gap)),
        needed=numeral(_cm(needed)),
    )
    return NoCourseError(MotionCode.NO_COURSE, message, tightest)


def _cm(mm: float) -> str:
    return format_length(mm, "cm", with_unit=False)


def _blocked_pose(scene: Scene, phases: Phases, half: str) -> NoCourseError | None:
    """A pose or leg that no course can do without, and that is not clear."""
    target, robot = scene.target, scene.robot
    has_tool = robot.working_footprint is not None
    trials: list[tuple[Stage, Pose, Action, _Blocked]] = []
    if half == "out":
        if scene.start is not None:
            trials.append((Stage("out", False), scene.start, Drive(0.0), _at_its_start))
        trials.append((Stage("out", has_tool), target.precontact, Drive(0.0), _in_front))
        trials.append((Stage("push", has_tool), target.precontact, Push(target.push_leg_mm), _pushing))
    else:
        end = push_end(scene)
        trials.append((Stage("push", has_tool), end, Drive(-robot.min_back_off_mm), _backing_off))
    for stage, pose, action, blocked in trials:
        room, index = action_room(phases.ground, stage, pose, action)
        if room < scene.margin_mm - 1e-6:
            told = {
                "thing": with_article(phases.ground.names[stage.name][index]),
                "room": numeral(_cm(room)),
                "margin": numeral(_cm(scene.margin_mm)),
            }
            return NoCourseError(MotionCode.BLOCKED, blocked(room <= 0, told))
    return None


#: What is said of such a place: whether it meets the thing or only comes too near, and the thing and lengths in cm.
_Blocked = Callable[[bool, dict[str, str]], str]


def _at_its_start(meets: bool, told: dict[str, str]) -> str:
    if meets:
        return _("At its start the robot meets {thing}. Move the start.", **told)
    return _(
        "At its start the robot comes within {room} cm of {thing}, nearer than the margin of {margin} cm. Move the start.",
        **told,
    )


def _in_front(meets: bool, told: dict[str, str]) -> str:
    if meets:
        return _("In front of the target the robot meets {thing}. Move that or the target.", **told)
    return _(
        "In front of the target the robot comes within {room} cm of {thing}, nearer than the margin of {margin} cm. "
        "Move that or the target.",
        **told,
    )


def _pushing(meets: bool, told: dict[str, str]) -> str:
    if meets:
        return _("While it pushes the robot meets {thing}. Move that or the target.", **told)
    return _(
        "While it pushes the robot comes within {room} cm of {thing}, nearer than the margin of {margin} cm. "
        "Move that or the target.",
        **told,
    )


def _backing_off(meets: bool, told: dict[str, str]) -> str:
    if meets:
        return _("Backing off the target the robot meets {thing}. Move that, or let it back off less.", **told)
    return _(
        "Backing off the target the robot comes within {room} cm of {thing}, nearer than the margin of {margin} cm. "
        "Move that, or let it back off less.",
        **told,
    )


@dataclass(frozen=True)
class _Map:
    """Distance of the axle to the nearest thing, on a grid of cell middles (rows along y)."""

    x: np.ndarray
    y: np.ndarray
    room: np.ndarray
    names: list[str]
    things: list[shapely.Geometry]
    cell: float

    def at(self, x_mm: float, y_mm: float) -> tuple[int, int]:
        """Row and column of the cell about a point."""
        return int(np.abs(self.y - y_mm).argmin()), int(np.abs(self.x - x_mm).argmin())


def _room_map(scene: Scene, half: str) -> _Map:
    outlines, names, _ = wall_outlines(scene)
    outlines = [*outlines, scene.target.body if half == "out" else pushed_body(scene)]
    names = [*names, target_name(scene), *EDGE_NAMES]
    w, d = scene.width_mm, scene.depth_mm
    corners = [(0, d), (0, 0), (w, 0), (w, d), (0, d)]
    things: list[Any] = [ShapelyPolygon(o) for o in outlines] + [LineString(corners[i : i + 2]) for i in range(4)]
    cell = max(CELL_MM, math.sqrt(w * d / 60_000))
    x = np.arange(cell / 2, w, cell)
    y = np.arange(cell / 2, d, cell)
    gx, gy = np.meshgrid(x, y)
    room = shapely.distance(shapely.points(gx, gy), shapely.union_all(things))
    return _Map(x, y, room, names, things, cell)


def tightest_place(scene: Scene, half: str) -> dict[str, Any] | None:
    """The bottleneck of the widest way, or None when no gap on it is narrower than what the robot needs to turn.

    Returns
    -------
    dict
        ``gap_mm`` between two things, ``needed_mm`` by the robot ``to`` drive through (or to turn), ``x_mm``, ``y_mm``,
        ``between`` (two names) and ``segment`` across the gap.
    """
    room_map = _room_map(scene, half)
    between_ends = _without_ends(room_map, scene, half)
    spot = _bottleneck(between_ends, scene, half)
    if spot is None or between_ends.room[between_ends.at(*spot)] == np.inf:
        return None
    place = _gap_at(room_map, spot)
    if place is None:
        return None
    body = shapely.union_all([ShapelyPolygon(p) for p in scene.robot.footprint])
    hull = shapely.get_coordinates(body.convex_hull)
    width = float(np.ptp(hull[:, 1])) + 2 * scene.margin_mm
    turning = 2 * (float(np.hypot(hull[:, 0], hull[:, 1]).max()) + scene.margin_mm)
    if place["gap_mm"] >= turning:
        return None
    narrow = place["gap_mm"] < width
    return place | {"needed_mm": width if narrow else turning, "to": "drive through" if narrow else "turn there"}


def _ends(room_map: _Map, scene: Scene, half: str) -> np.ndarray:
    """The cells that the half's way may lead to from its goal: the start, or anywhere in the base."""
    if half == "out" and scene.start is not None:
        ends = np.zeros(room_map.room.shape, dtype=bool)
        ends[room_map.at(scene.start.x_mm, scene.start.y_mm)] = True
        return ends
    return shapely.contains_xy(ShapelyPolygon(scene.base), *np.meshgrid(room_map.x, room_map.y))


def _without_ends(room_map: _Map, scene: Scene, half: str) -> _Map:
    """The map with no bottleneck where the robot stands at either end.

    Beside a wall the room is small and there is no gap. Cells within the body's reach of the start and the goal, and
    those in the base, count as wide; not those where the disc does not pass, so that a wall there stays one.
    """
    gx, gy = np.meshgrid(room_map.x, room_map.y)
    reach = body_of(scene.robot.footprint, scene.margin_mm).reach
    near = _ends(room_map, scene, half)
    points = [_goal(scene, half)]
    if half == "out" and scene.start is not None:
        points.append((scene.start.x_mm, scene.start.y_mm))
    for x, y in points:
        near |= np.hypot(gx - x, gy - y) <= reach
    passes = room_map.room >= max(_disc(scene) - room_map.cell, 0.75 * room_map.cell)
    return replace(room_map, room=np.where(near & passes, np.inf, room_map.room))


def _bottleneck(room_map: _Map, scene: Scene, half: str) -> tuple[float, float] | None:
    """The narrowest cell of the widest way between the half's goal and its other end; None when none counts."""
    x, y = room_map.x, room_map.y
    row, column = widest_way(room_map.room, _ends(room_map, scene, half), *room_map.at(*_goal(scene, half)))
    return None if row < 0 else (float(x[column]), float(y[row]))


def _gap_at(room_map: _Map, spot: tuple[float, float]) -> dict[str, Any] | None:
    """The two things on either side of a spot and the shortest way across; None when nothing is tight just there."""
    here = Point(spot)
    distances = [thing.distance(here) for thing in room_map.things]
    first = int(np.argmin(distances))
    near = shapely.get_coordinates(shapely.shortest_line(here, room_map.things[first]))[1] - np.array(spot)
    best: tuple[float, int] | None = None
    for i, thing in enumerate(room_map.things):
        if i == first or _share_a_corner(i, first, len(room_map.things)):
            continue
        other = shapely.get_coordinates(shapely.shortest_line(here, thing))[1] - np.array(spot)
        size = float(np.hypot(*near) * np.hypot(*other))
        if size > 1e-9 and float(near @ other) / size > 0.3:
            continue  # on the same side
        if best is None or distances[i] < best[0]:
            best = (distances[i], i)
    if best is None:
        return None
    window = here.buffer(distances[first] + best[0] + 40)
    pieces = [room_map.things[k].intersection(window) for k in (first, best[1])]
    line = shapely.shortest_line(*pieces)
    if abs(line.length - 2 * distances[first]) > 2 * room_map.cell:
        return None  # the way does not lead through between these two
    (ax, ay), (bx, by) = shapely.get_coordinates(line)
    return {
        "gap_mm": float(line.length),
        "x_mm": float((ax + bx) / 2),
        "y_mm": float((ay + by) / 2),
        "between": (room_map.names[first], room_map.names[best[1]]),
        "segment": ((float(ax), float(ay)), (float(bx), float(by))),
    }


def _share_a_corner(i: int, k: int, count: int) -> bool:
    """Whether two things are neighbouring edges of the table (the last four things, in their order around it)."""
    return min(i, k) >= count - len(EDGE_NAMES) and (i - k) % 2 == 1
