"""Why there is no course: the reason in words, and the tightest place on the way, measured.

First the poses that no course can avoid are looked at. Then a point with a disc around it, the largest that fits into
the body about the axle: where even the disc cannot pass, no robot of that body can, whatever its heading. The widest
way for a disc gives the tightest place: no other way has a wider bottleneck (to within the map's 10 mm).
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry import Polygon as ShapelyPolygon

from motion.clearance import EDGE_NAMES, Stage, action_room, pushed_body, target_name, wall_outlines
from motion.errors import NoCourseError
from motion.route import Action, Drive, Push
from motion.scene import Pose, Scene
from motion.search_phases import Phases, push_end

CELL_MM = 10.0
#: The search's resolution, in words.
RESOLUTION = "a 7 cm grid, the corners of everything and every narrow gap, with all headings"


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
    if _blocked_pose(scene, phases, half) is not None:
        return True
    room_map = _room_map(scene, half)
    spot = _bottleneck(room_map, scene, _goal(scene, half))
    if spot is None:
        return True
    room = float(shapely.distance(Point(spot), shapely.union_all(room_map.things)))
    body = phases.ground.travel_wide
    disc = max(float(body.support[a:b].min()) for a, b in itertools.pairwise(body.start))
    return room + room_map.cell < disc


def _goal(scene: Scene, half: str) -> tuple[float, float]:
    """Where the half's way must reach from: the pre-contact pose, or the least back off the target."""
    if half == "out":
        return scene.target.precontact.x_mm, scene.target.precontact.y_mm
    end = push_end(scene)
    off = push_end(scene, end, -scene.robot.min_back_off_mm)
    return off.x_mm, off.y_mm


def _in_words(half: str, tightest: dict[str, Any] | None) -> NoCourseError:
    where = "from the start to the target" if half == "out" else "from the target back into the base"
    if tightest is None:
        return NoCourseError("no_course", f"No clear way was found {where} (looked on {RESOLUTION}); make more room.")
    gap, needed = tightest["gap_mm"], tightest["needed_mm"]
    first, second = (_with_the(name) for name in tightest["between"])
    if gap < 1.0:
        message = f"{first.capitalize()} and {second} leave no gap between them to drive through; move one of them."
        return NoCourseError("no_gap", message, tightest)
    place = f"The gap between {first} and {second} is {_cm(gap)} cm; your robot needs {_cm(needed)} cm to {{}}."
    if gap < needed:
        return NoCourseError("gap_too_narrow", place.format(tightest["to"]), tightest)
    message = (
        f"No clear way was found {where} (looked on {RESOLUTION}). The tightest place, between {first} and {second}, "
        f"is {_cm(gap)} cm wide; make more room there."
    )
    return NoCourseError("no_course", message, tightest)


def _cm(mm: float) -> str:
    return f"{mm / 10:.1f}".removesuffix(".0")


def _with_the(name: str) -> str:
    return name if name.split()[0] in ("the", "obstacle", "keep-out") else f"the {name}"


def _blocked_pose(scene: Scene, phases: Phases, half: str) -> NoCourseError | None:
    """A pose or leg that no course can do without, and that is not clear."""
    target, robot = scene.target, scene.robot
    has_tool = robot.working_footprint is not None
    trials: list[tuple[str, bool, Pose, Action, str, str]] = []
    if half == "out":
        if scene.start is not None:
            words = "At its start the robot", "Move the start."
            trials.append(("out", False, scene.start, Drive(0.0), *words))
        words = "In front of the target the robot", "Move that or the target."
        trials.append(("out", has_tool, target.precontact, Drive(0.0), *words))
        words = "While it pushes the robot", "Move that or the target."
        trials.append(("push", has_tool, target.precontact, Push(target.push_leg_mm), *words))
    else:
        end = push_end(scene)
        words = "Backing off the target the robot", "Move that, or let it back off less."
        trials.append(("push", has_tool, end, Drive(-robot.min_back_off_mm), *words))
    for stage, lowered, pose, action, who, remedy in trials:
        room, index = action_room(phases.ground, Stage(stage, lowered), pose, action)  # type: ignore[arg-type]
        if room < scene.margin_mm - 1e-6:
            name = _with_the(phases.ground.names[stage][index])
            if room <= 0:
                how = f"meets {name}"
            else:
                how = f"comes within {_cm(room)} cm of {name}, nearer than the margin of {_cm(scene.margin_mm)} cm"
            return NoCourseError("blocked", f"{who} {how}. {remedy}")
    return None


@dataclass(frozen=True)
class _Map:
    """Distance of the axle to the nearest thing, on a grid of cell middles (rows along y)."""

    x: np.ndarray
    y: np.ndarray
    room: np.ndarray
    names: list[str]
    things: list[shapely.Geometry]
    cell: float


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
    """The bottleneck of the widest way, or None when there is no gap to name.

    Returns
    -------
    dict
        ``gap_mm`` between two things, ``needed_mm`` by the robot ``to`` drive through (or to turn), ``x_mm``, ``y_mm``,
        ``between`` (two names) and ``segment`` across the gap.
    """
    room_map = _room_map(scene, half)
    spot = _bottleneck(room_map, scene, _goal(scene, half))
    if spot is None:
        return None
    place = _gap_at(room_map, spot)
    if place is None:
        return None
    body = shapely.union_all([ShapelyPolygon(p) for p in scene.robot.footprint])
    hull = shapely.get_coordinates(body.convex_hull)
    width = float(np.ptp(hull[:, 1])) + 2 * scene.margin_mm
    turning = 2 * (float(np.hypot(hull[:, 0], hull[:, 1]).max()) + scene.margin_mm)
    narrow = place["gap_mm"] < width
    return place | {"needed_mm": width if narrow else turning, "to": "drive through" if narrow else "turn there"}


def _bottleneck(room_map: _Map, scene: Scene, goal: tuple[float, float]) -> tuple[float, float] | None:
    """The narrowest cell of the widest way between the goal and the start (or anywhere in the base)."""
    x, y, room = room_map.x, room_map.y, room_map.room

    def cell(px: float, py: float) -> tuple[int, int]:
        return int(np.abs(y - py).argmin()), int(np.abs(x - px).argmin())

    ends = np.zeros(room.shape, dtype=bool)
    if scene.start is not None:
        ends[cell(scene.start.x_mm, scene.start.y_mm)] = True
    else:
        gx, gy = np.meshgrid(x, y)
        ends = shapely.contains_xy(ShapelyPolygon(scene.base), gx, gy)
    origin = cell(*goal)
    widest = np.full(room.shape, -1.0)
    widest[origin] = room[origin]
    narrow: dict[tuple[int, int], tuple[int, int]] = {origin: origin}
    heap = [(-room[origin], origin)]
    # the neighbourhoods of both ends are as wide as they are: a bottleneck there tells nothing about a gap
    while heap:
        width, at = heapq.heappop(heap)
        if -width < widest[at]:
            continue
        if ends[at]:
            row, column = narrow[at]
            return float(x[column]), float(y[row])
        for step in ((0, 1), (1, 0), (0, -1), (-1, 0), (1, 1), (1, -1), (-1, 1), (-1, -1)):
            to = at[0] + step[0], at[1] + step[1]
            if not (0 <= to[0] < len(y) and 0 <= to[1] < len(x)):
                continue
            reach = min(-width, float(room[to]))
            if reach > widest[to]:
                widest[to] = reach
                narrow[to] = to if room[to] < -width else narrow[at]
                heapq.heappush(heap, (-reach, to))
    return None


def _gap_at(room_map: _Map, spot: tuple[float, float]) -> dict[str, Any] | None:
    """The two things on either side of a spot and the shortest way across between them there."""
    here = Point(spot)
    distances = [thing.distance(here) for thing in room_map.things]
    first = int(np.argmin(distances))
    near = shapely.get_coordinates(shapely.shortest_line(here, room_map.things[first]))[1] - np.array(spot)
    best: tuple[float, int] | None = None
    for i, thing in enumerate(room_map.things):
        if i == first:
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
    (ax, ay), (bx, by) = shapely.get_coordinates(line)
    return {
        "gap_mm": float(line.length),
        "x_mm": float((ax + bx) / 2),
        "y_mm": float((ay + by) / 2),
        "between": (room_map.names[first], room_map.names[best[1]]),
        "segment": ((float(ax), float(ay)), (float(bx), float(by))),
    }
