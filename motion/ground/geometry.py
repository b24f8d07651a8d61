"""Polygons as the kernels want them: convex pieces, grown by a margin, packed into flat arrays.

Kernels work on convex pieces only. Input may be non-convex: it is cut into triangles (shapely's constrained Delaunay
triangulation) that are merged again while they stay convex (Hertel and Mehlhorn's idea: drop an inner diagonal when
both its ends stay convex).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon as ShapelyPolygon

from motion.ground.kernels_covered import mark_covered
from motion.scene.records import Point, Polygon

#: What kernels may overlap and still call free, mm: rounding noise, no more.
TOUCH_MM = 1e-6
#: Deeper inside a piece than this (mm) is inside it, whatever rounding noise does.
SURELY_INSIDE_MM = 1e-6


#: A side of a convex piece, counter-clockwise from corner a to corner b (mm): its outward unit normal, and how far its
#: line is from the origin along that; ``inner`` is 1 where another piece of the same outline lies right beyond it, or all over it.
SIDE = np.dtype(
    [(name, np.float64) for name in ("ax", "ay", "bx", "by", "nx", "ny", "support")] + [("inner", np.int64)]
)
#: A convex piece: its sides from ``first`` up to ``last``, and the box around it (mm).
PIECE = np.dtype(
    [("first", np.int64), ("last", np.int64)] + [(name, np.float64) for name in ("x_lo", "y_lo", "x_hi", "y_hi")]
)


class Body(NamedTuple):
    """A footprint as convex parts in the robot's frame (mm): ``sides`` of :data:`SIDE`, ``parts`` of :data:`PIECE`.

    ``reach`` is the farthest corner from the axle.
    """

    sides: np.ndarray
    parts: np.ndarray
    reach: float


class Walls(NamedTuple):
    """What to keep clear of: convex pieces in table coordinates (mm) and the rectangle to stay within.

    ``sides`` of :data:`SIDE`, ``pieces`` of :data:`PIECE`; ``outlines`` of :data:`PIECE` too, each with the pieces from
    ``first`` up to ``last`` that one outline was cut into, and the box around them, so that what is far away is told at
    one look; ``edges`` (4,) least x, least y, most x, most y of the table.
    """

    sides: np.ndarray
    pieces: np.ndarray
    outlines: np.ndarray
    edges: np.ndarray

    def ring(self, piece: int) -> np.ndarray:
        """Corners (N, 2) of a piece."""
        return corners_of(self.sides[self.pieces["first"][piece] : self.pieces["last"][piece]])


def corners_of(sides: np.ndarray) -> np.ndarray:
    """Corners (N, 2) at which sides begin.

    >>> sides, _ = packed_walls([[(0, 0), (4, 0), (4, 2)]])
    >>> corners_of(sides).tolist()
    [[0.0, 0.0], [4.0, 0.0], [4.0, 2.0]]
    """
    return np.stack([sides["ax"], sides["ay"]], axis=1)


def signed_area(ring: Sequence[Point]) -> float:
    """Area of a ring, positive when counter-clockwise.

    >>> signed_area([(0, 0), (2, 0), (2, 1), (0, 1)])
    2.0
    """
    area, (x, y) = 0.0, ring[-1]
    for px, py in ring:
        area += x * py - px * y
        x, y = px, py
    return 0.5 * float(area)


def counter_clockwise(ring: Sequence[Point]) -> list[Point]:
    """The ring in counter-clockwise order, floats, without repeated or closing points.

    >>> counter_clockwise([(0, 0), (0, 2), (4, 2), (0, 0)])
    [(0.0, 0.0), (4.0, 2.0), (0.0, 2.0)]
    """
    points = [(float(x), float(y)) for x, y in ring]
    kept = [p for i, p in enumerate(points) if math.dist(p, points[i - 1]) > 1e-9]
    return kept if signed_area(kept) > 0 else kept[::-1]


def _cross(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _without_flat_corners(ring: list[Point]) -> list[Point]:
    size = max(math.dist(ring[0], p) for p in ring)
    return [p for i, p in enumerate(ring) if _cross(ring[i - 1], p, ring[(i + 1) % len(ring)]) > 1e-9 * size]


def is_convex(ring: Sequence[Point]) -> bool:
    """Whether a counter-clockwise ring has no corner that turns right.

    >>> is_convex([(0, 0), (4, 0), (4, 4), (0, 4)]), is_convex([(0, 0), (4, 0), (4, 4), (2, 1), (0, 4)])
    (True, False)
    """
    n = len(ring)
    return all(_cross(ring[i - 1], ring[i], ring[(i + 1) % n]) >= -1e-9 for i in range(n))


@lru_cache(maxsize=512)
def convex_parts(ring: Polygon) -> tuple[list[Point], ...]:
    """Cut a simple polygon into convex counter-clockwise pieces that cover exactly it (the last ones are remembered).

    >>> len(convex_parts(((0, 0), (4, 0), (4, 4), (2, 1), (0, 4))))
    3
    """
    outline = counter_clockwise(ring)
    if is_convex(outline):
        return (_without_flat_corners(outline),)
    triangles = shapely.constrained_delaunay_triangles(ShapelyPolygon(outline))
    pieces = [counter_clockwise(list(t.exterior.coords)[:-1]) for t in triangles.geoms if t.area > 1e-9]
    return tuple(_without_flat_corners(piece) for piece in _merged(pieces))


@lru_cache(maxsize=512)
def _grown_parts(ring: Polygon, extra_mm: float) -> tuple[list[Point], ...]:
    """A polygon's convex parts, each grown (the last ones are remembered)."""
    return tuple(grown(part, extra_mm) for part in convex_parts(ring))


@lru_cache(maxsize=512)
def _inner_sides(ring: Polygon) -> tuple[int, ...]:
    """1 for every side of a polygon's convex parts that two of them share, else 0 (the last ones are remembered)."""
    edges = [edge for part in convex_parts(ring) for edge in _edges(part)]
    known = set(edges)
    return tuple(int((q, p) in known) for p, q in edges)


def _merged(pieces: list[list[Point]]) -> list[list[Point]]:
    """Convex pieces of one outline, each having swallowed the neighbours with which it stays convex."""
    whole: dict[int, list[Point]] = dict(enumerate(pieces))
    owner = {edge: k for k, piece in whole.items() for edge in _edges(piece)}
    for k in range(len(pieces)):
        while k in whole:
            beyond = sorted({owner[q, p] for p, q in _edges(whole[k]) if owner.get((q, p), -1) > k})
            for other in beyond:
                joined = _joined(whole[k], whole[other])
                if joined is not None and is_convex(joined):
                    del whole[other]
                    whole[k] = joined
                    owner |= dict.fromkeys(_edges(joined), k)
                    break
            else:
                break
    return list(whole.values())


def _edges(ring: Sequence[Point]) -> list[tuple[Point, Point]]:
    return list(zip(ring, [*ring[1:], ring[0]], strict=True))


def _joined(a: list[Point], b: list[Point]) -> list[Point] | None:
    """The ring around two counter-clockwise rings that share one edge, or None."""
    for i in range(len(a)):
        p, q = a[i], a[(i + 1) % len(a)]
        for j in range(len(b)):
            if b[j] == q and b[(j + 1) % len(b)] == p:
                around_a = [a[(i + 1 + k) % len(a)] for k in range(len(a))]  # q ... p
                around_b = [b[(j + 1 + k) % len(b)] for k in range(len(b))]  # p ... q
                return around_a + around_b[1:-1]
    return None


def grown(ring: Sequence[Point], margin_mm: float) -> list[Point]:
    """A convex counter-clockwise ring with every edge moved out by ``margin_mm`` and corners mitred.

    A corner that would stick out more than 1.5 margins gets one more edge, square to its bisector at one margin from
    the corner, so that the result always covers the rounded offset and never grows a spike. A negative margin shrinks.

    >>> grown([(0, 0), (4, 0), (4, 2), (0, 2)], 1)
    [(-1.0, -1.0), (5.0, -1.0), (5.0, 3.0), (-1.0, 3.0)]
    """
    n = len(ring)
    lines: list[tuple[float, float, float]] = []
    for i in range(n):
        (ax, ay), (bx, by) = ring[i], ring[(i + 1) % n]
        length = math.hypot(bx - ax, by - ay)
        nx, ny = (by - ay) / length, -(bx - ax) / length
        (cx, cy) = ring[i - 1]
        before = math.hypot(ax - cx, ay - cy)
        mx, my = (ay - cy) / before, -(ax - cx) / before
        half = math.sqrt(max(0.0, (1 + nx * mx + ny * my) / 2))  # cosine of half the angle between the normals
        if margin_mm > 0 and half < 1 / 1.5:
            wx, wy = nx + mx, ny + my
            size = math.hypot(wx, wy)
            if size > 1e-9:
                wx, wy = wx / size, wy / size
                lines.append((wx, wy, wx * ax + wy * ay + margin_mm))
        lines.append((nx, ny, nx * ax + ny * ay + margin_mm))
    return [_crossing(lines[i - 1], lines[i]) for i in range(len(lines))]


def _crossing(first: tuple[float, float, float], second: tuple[float, float, float]) -> Point:
    a, b, e = first
    c, d, f = second
    det = a * d - b * c
    return ((e * d - b * f) / det, (a * f - e * c) / det)


def packed_walls(rings: Sequence[Sequence[Point]]) -> tuple[np.ndarray, np.ndarray]:
    """Sides (of :data:`SIDE`) and pieces (of :data:`PIECE`) of convex counter-clockwise rings.

    >>> sides, pieces = packed_walls([[(0, 0), (4, 0), (4, 2), (0, 2)]])
    >>> len(sides), pieces["x_hi"].tolist(), pieces["y_hi"].tolist()
    (4, [4.0], [2.0])
    """
    counts = np.array([len(ring) for ring in rings], dtype=np.int64)
    last = np.cumsum(counts)
    first = last - counts
    sides, pieces = np.zeros(int(counts.sum()), SIDE), np.zeros(len(rings), PIECE)
    if not len(rings):
        return sides, pieces
    points = np.array([point for ring in rings for point in ring], dtype=float)
    following = np.arange(1, len(points) + 1)
    following[last - 1] = first
    ends = points[following]
    along = ends - points
    length = np.hypot(along[:, 0], along[:, 1])
    normal = np.stack([along[:, 1] / length, -along[:, 0] / length], axis=1)
    columns = (*points.T, *ends.T, *normal.T, np.sum(points * normal, axis=1))
    for name, column in zip((SIDE.names or ())[:-1], columns, strict=True):
        sides[name] = column
    pieces["first"], pieces["last"] = first, last
    for axis, name in enumerate("xy"):
        pieces[name + "_lo"] = np.minimum.reduceat(points[:, axis], first)
        pieces[name + "_hi"] = np.maximum.reduceat(points[:, axis], first)
    return sides, pieces


def body_of(footprint: Iterable[Polygon], margin_mm: float = 0.0) -> Body:
    """Pack a footprint (polygons about the axle's midpoint, mm), grown by ``margin_mm`` less :data:`TOUCH_MM`.

    >>> body = body_of([((-30, -40), (30, -40), (30, 40), (-30, 40))])
    >>> len(body.parts), len(body.sides), round(body.reach, 3)
    (1, 4, 50.0)
    """
    rings = [grown(part, margin_mm - TOUCH_MM) for ring in footprint for part in convex_parts(tuple(ring))]
    sides, parts = packed_walls(rings)
    return Body(sides, parts, float(np.hypot(sides["ax"], sides["ay"]).max()))


def walls_of(
    outlines: Sequence[Polygon],
    width_mm: float,
    depth_mm: float,
    *,
    extra_mm: Sequence[float] | None = None,
    edge_extra_mm: float = 0.0,
) -> tuple[Walls, np.ndarray]:
    """Pack what to keep clear of.

    Parameters
    ----------
    outlines
        Simple polygons in table coordinates (mm), convex or not.
    width_mm, depth_mm
        The table.
    extra_mm
        How much wider than the body's own margin to keep from each outline (mm); 0 by default.
    edge_extra_mm
        The same for the table's edges.

    Returns
    -------
    Walls, ndarray of int
        The packed pieces, and for each piece the index of the outline that it came from.

    Examples
    --------
    An outline with a notch comes as three convex pieces, the table's edges stand apart.

    >>> walls, owner = walls_of([((0, 0), (4, 0), (4, 4), (2, 1), (0, 4))], 2000, 1000)
    >>> owner.tolist(), walls.edges.tolist()
    ([0, 0, 0], [0.0, 0.0, 2000.0, 1000.0])
    """
    rings: list[list[Point]] = []
    owner: list[int] = []
    inner: list[int] = []
    for i, outline in enumerate(outlines):
        extra = 0.0 if extra_mm is None else float(extra_mm[i])
        parts = _grown_parts(tuple(outline), extra) if extra > 0 else convex_parts(tuple(outline))
        rings += parts
        owner += [i] * len(parts)
        inner += [0] * sum(map(len, parts)) if extra > 0 else _inner_sides(tuple(outline))
    edges = np.array([edge_extra_mm, edge_extra_mm, width_mm - edge_extra_mm, depth_mm - edge_extra_mm])
    sides, pieces = packed_walls(rings)
    sides["inner"] = inner
    owners = np.array(owner, dtype=np.int64)
    last = np.flatnonzero(np.diff(owners, append=-1)) + 1
    walls = Walls(sides, pieces, boxed(pieces, np.concatenate([[0], last[:-1]]).astype(np.int64), last), edges)
    if extra_mm is not None:
        mark_covered(walls, SURELY_INSIDE_MM)  # grown pieces overlap
    return walls, owners


def boxed(pieces: np.ndarray, first: np.ndarray, last: np.ndarray) -> np.ndarray:
    """Outlines (of :data:`PIECE`) of the pieces from ``first`` up to ``last`` (O,) each, with the boxes around them.

    >>> _, pieces = packed_walls([[(0, 0), (4, 0), (4, 2)], [(4, 0), (9, 0), (4, 2)]])
    >>> boxed(pieces, np.array([0]), np.array([2]))[["last", "x_lo", "x_hi"]].tolist()
    [(2, 0.0, 9.0)]
    """
    outlines = np.zeros(len(last), PIECE)
    if not len(last):
        return outlines
    outlines["first"], outlines["last"] = first, last
    for axis in "xy":
        outlines[axis + "_lo"] = np.minimum.reduceat(pieces[axis + "_lo"], first)
        outlines[axis + "_hi"] = np.maximum.reduceat(pieces[axis + "_hi"], first)
    return outlines
