"""Which positions the search tries: lines through the start and the goal, corners of obstacles, a staggered grid."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry import MultiPoint

from motion.course.sentences import _
from motion.errors import MotionCode, MotionError
from motion.ground.geometry import Walls, corners_of
from motion.search.kernels.arcs import Graph, node_arcs
from motion.search.kernels.task import Task

GRID_MM = 150.0
MAX_NODES = 640
MAX_GRID = 600
#: Pairs of pieces grow with the square of their number.
MANY_PIECES = 150
#: So many gaps are measured at a time, until enough are known to be the narrowest.
AT_A_TIME = 24
SLIT_MM = (-420.0, -260.0, -130.0, 0.0, 130.0, 260.0, 420.0)
LINE_MM = (40.0, 70.0, 110.0, 160.0, 220.0, 300.0, 400.0, 520.0, 660.0, 820.0, 1000.0, 1250.0, 1550.0, 1900.0)


def _line(x: float, y: float, h: float, signs: tuple[float, ...], nearest: float = 0.0) -> list[tuple[float, float]]:
    """Points along a line through (x, y); the first ``nearest`` mm from it when that is given."""
    steps = [t for t in LINE_MM if t > nearest]
    if nearest > 0:
        steps.insert(0, nearest * (1 + 1e-12))
    return [(x + s * t * math.cos(h), y + s * t * math.sin(h)) for s in signs for t in steps]


def _corner_points(task: Task, limit: int) -> list[tuple[float, float]]:
    """Points out from the corners of every piece, far enough for the body's side and for its turning circle."""
    side = _half_width(task)
    reach = task.body.reach
    sides, pieces = task.walls.sides, task.walls.pieces
    before = np.arange(-1, len(sides) - 1)
    before[pieces["first"]] = pieces["last"] - 1
    out = np.stack([sides[name] + sides[name][before] for name in ("nx", "ny")], axis=1)
    size = np.hypot(out[:, 0], out[:, 1])[:, None]
    good = size[:, 0] > 1e-6
    corners, out = corners_of(sides)[good], out[good] / size[good]
    far = np.array([1.12 * side + 10, 1.7 * side + 20, 1.04 * reach + 5])
    points = (corners[:, None] + far[:, None] * out[:, None]).reshape(-1, 2)
    if len(points) > limit:
        points = points[np.linspace(0, len(points) - 1, limit).astype(int)]
    return [(float(x), float(y)) for x, y in points]


def slits(task: Task, most: int = 10) -> tuple[np.ndarray, np.ndarray]:
    """The narrowest gaps that the body still fits through, between two pieces or a piece and an edge.

    Returns
    -------
    middles, directions
        (S, 2) middle of each gap and (S, 2) unit vector through it.
    """
    walls, side = task.walls, _half_width(task)
    pieces = _things(walls)
    if not len(pieces):
        return np.zeros((0, 2)), np.zeros((0, 2))
    x0, y0, x1, y1 = walls.edges
    edges = np.array(
        [
            shapely.LineString(e)
            for e in (((x0, y0), (x0, y1)), ((x0, y0), (x1, y0)), ((x1, y0), (x1, y1)), ((x0, y1), (x1, y1)))
        ]
    )
    hulls = pieces if len(pieces) == len(walls.pieces) else shapely.convex_hull(pieces)
    first, second = shapely.STRtree(hulls).query(hulls, predicate="dwithin", distance=5 * side)
    once = np.lexsort((second, first))
    once = once[first[once] < second[once]]
    first, second = first[once], second[once]

    def pairs(things: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        near, far = things[first], things[second]
        return np.concatenate([near, np.repeat(things, 4)]), np.concatenate([far, np.tile(edges, len(things))])

    nears, fars = pairs(pieces)
    gaps = shapely.distance(*pairs(hulls))
    if hulls is not pieces:
        gaps = _narrowest(gaps, nears, fars, 1.9 * side, most)
    order = np.argsort(gaps, kind="stable")
    order = order[(gaps[order] > 1.9 * side) & (gaps[order] < 5 * side)][:most]
    lines = shapely.shortest_line(nears[order], fars[order])
    ends = shapely.get_coordinates(lines).reshape(-1, 2, 2)
    across = ends[:, 1] - ends[:, 0]
    across /= np.linalg.norm(across, axis=1, keepdims=True) if len(across) else 1.0
    return ends.mean(axis=1), np.stack([-across[:, 1], across[:, 0]], axis=1)


def _narrowest(least: np.ndarray, nears: np.ndarray, fars: np.ndarray, narrow: float, most: int) -> np.ndarray:
    """Gaps between things of which at ``least`` so much is known, those that may be among the ``most`` narrowest.

    Gaps that are not over ``narrow`` do not count among these. The others are infinite, and were not measured.
    """
    gaps, order = np.full(len(least), np.inf), np.argsort(least, kind="stable")
    for begin in range(0, len(order), AT_A_TIME):
        some = order[begin : begin + AT_A_TIME]
        enough = np.sort(gaps[gaps > narrow])[most - 1 : most]
        if enough.size and least[some[0]] > enough[0]:
            break
        gaps[some] = shapely.distance(nears[some], fars[some])
    return gaps


def _things(walls: Walls) -> np.ndarray:
    """The convex pieces; where there are a great many, whole outlines, whose own slits are then left to the grid."""
    corners, counts = corners_of(walls.sides), walls.pieces["last"] - walls.pieces["first"]
    rings = shapely.linearrings(corners, indices=np.repeat(np.arange(len(counts)), counts)) if len(counts) else []
    pieces = shapely.polygons(rings)
    if len(pieces) <= MANY_PIECES:
        return pieces
    outlines = walls.outlines["last"] - walls.outlines["first"]
    return shapely.multipolygons(pieces, indices=np.repeat(np.arange(len(outlines)), outlines))


def _half_width(task: Task) -> float:
    parts = task.body.parts
    return float(min(np.abs(parts["y_lo"]).max(), np.abs(parts["y_hi"]).max()))


def _grid(task: Task, spacing: float) -> list[tuple[float, float]]:
    """Points of a staggered grid, at most :data:`MAX_GRID` of them: a huge table has a coarser one."""
    x0, y0, x1, y1 = task.walls.edges
    spacing = max(spacing, math.sqrt((x1 - x0) * (y1 - y0) / MAX_GRID))
    rows = max(2, round((y1 - y0) / spacing))
    columns = max(2, round((x1 - x0) / spacing))
    dx, dy = (x1 - x0) / columns, (y1 - y0) / rows
    return [
        (x0 + (i + (0.5 if j % 2 else 0.0) + 0.25) * dx, y0 + (j + 0.5) * dy)
        for j in range(rows)
        for i in range(columns)
    ]


def crossing_of_lines(task: Task) -> list[tuple[float, float]]:
    """Where the line of the start heading meets the line of the goal heading; empty when they are parallel."""
    start, goal = task.trip.start, task.trip.goal
    ux, uy, vx, vy = math.cos(start.h), math.sin(start.h), math.cos(goal.h), math.sin(goal.h)
    det = uy * vx - ux * vy
    if abs(det) < 1e-6:
        return []
    dx, dy = goal.x - start.x, goal.y - start.y
    t = (dy * vx - dx * vy) / det
    return [(start.x + t * ux, start.y + t * uy)]


def positions(task: Task, spacing: float = GRID_MM) -> Graph:
    """Positions for the search with their free heading arcs.

    Returns
    -------
    Graph
        The positions where the body can stand at some heading; start and goal always, and first.
    """
    start, goal = task.trip.start, task.trip.goal
    head = [(start.x, start.y)]
    if task.trip.backing:
        line = _line(start.x, start.y, start.h, (-1.0,), task.trip.handling.least_back)
    else:
        line = _line(start.x, start.y, start.h, (1.0, -1.0))
    rest: list[tuple[float, float]] = []
    if not task.trip.into_base:
        head.append((goal.x, goal.y))
        rest += crossing_of_lines(task) + _line(goal.x, goal.y, goal.h, (-1.0,))
    middles, directions = slits(task)
    for far in SLIT_MM:
        rest += [(float(x), float(y)) for x, y in middles + far * directions]
    rest += _grid(task, spacing)
    rest += _corner_points(task, max(MAX_NODES - len(rest) - len(line) - 2, 150))
    nodes = np.array(head + line + rest)
    inner = float(np.abs(task.body.sides["support"]).min())
    x0, y0, x1, y1 = task.walls.edges
    fits = (nodes[:, 0] > x0 + inner) & (nodes[:, 0] < x1 - inner)
    fits &= (nodes[:, 1] > y0 + inner) & (nodes[:, 1] < y1 - inner)
    fits[: len(head)] = True
    on_line = np.zeros(len(nodes), dtype=bool)
    on_line[len(head) : len(head) + len(line)] = task.trip.backing
    nodes, on_line = nodes[fits], on_line[fits]
    count, lo, hi = node_arcs(task.walls, task.body, nodes)
    if count.min() < 0:
        raise MotionError(
            MotionCode.TOO_CROWDED, _("Obstacles are too many and too close at one spot; merge some of them.")
        )
    usable = count > 0
    usable[: len(head)] = True
    nodes, on_line = nodes[usable], on_line[usable]
    return Graph(nodes, count[usable], lo[usable], hi[usable], np.flatnonzero(on_line))


def base_aims(task: Task) -> np.ndarray:
    """Points to head for on the way home, (B, 2): in the base, and the middles of narrow gaps."""
    ring = corners_of(task.homing.base)
    shape = MultiPoint(ring).convex_hull if task.homing.convex else shapely.Polygon(ring)
    side = float(np.abs(task.homing.body.sides["support"]).min())
    inner = shape.buffer(-side)
    if inner.is_empty:
        inner = shape.buffer(-0.2 * side)
    if inner.is_empty:
        inner = shape
    x0, y0, x1, y1 = inner.bounds
    xs, ys = np.linspace(x0, x1, 6), np.linspace(y0, y1, 6)
    points = np.array([(x, y) for x in xs for y in ys])
    inside = points[shapely.contains_xy(inner.buffer(1e-6), points[:, 0], points[:, 1])]
    if not len(inside):
        inside = np.array(inner.representative_point().coords)
    return np.concatenate([inside, slits(task)[0]])
