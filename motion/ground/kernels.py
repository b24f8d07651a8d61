"""Exact tests of one leg or one turn against the walls, compiled.

All take packed arrays (:class:`motion.ground.geometry.Walls`, :class:`motion.ground.geometry.Body`), mm and radians. A body meets
nothing when it does not enter; the body is packed smaller by ``TOUCH_MM`` so that touching is allowed.

"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner, kernel

TWO_PI = 2 * math.pi
#: What rounding may take from a bound, as a share of it.
DUST = 1e-9
#: Instead of the piece that is met: an edge of the table, or nothing.
EDGE, FREE = -1, -2


class Facing(NamedTuple):
    """Where a body's axle is (mm) and the unit vector along its heading."""

    x: float
    y: float
    c: float
    s: float


class Turning(NamedTuple):
    """A turn about a point (mm) from a heading by an angle (radians, counter-clockwise positive)."""

    x: float
    y: float
    heading: float
    by: float


@kernel
def leg_free(walls, body, x, y, c, s, distance):
    """Whether the body, driving ``distance`` (signed) from (x, y) along heading (c, s), meets nothing.

    Separating axes between each convex piece and the swept part (a convex part extended along its own x axis):
    the leg's two axes, the piece's edges, the part's edges. Exact for convex shapes in the plane.
    """
    return leg_is_free(walls, body, x, y, c, s, distance)


@inner
def leg_is_free(walls, body, x, y, c, s, distance):
    """As :func:`leg_free`, for kernels."""
    return met_on_leg(walls, body, x, y, c, s, distance) == FREE


@inner
def _beside(box, part, at):
    """Whether a box lies wholly to one side of a part's way along its heading."""
    across = at.c * (0.5 * (box.y_lo + box.y_hi) - at.y) - at.s * (0.5 * (box.x_lo + box.x_hi) - at.x)
    half = 0.5 * (abs(at.c) * (box.y_hi - box.y_lo) + abs(at.s) * (box.x_hi - box.x_lo))
    return across - half >= part.y_hi or across + half <= part.y_lo


@inner
def met_on_leg(walls, body, x, y, c, s, distance):
    """The first piece that the body meets on a leg: its index, :data:`EDGE` for the table's edges, or :data:`FREE`."""
    at, back, ahead = Facing(x, y, c, s), min(0.0, distance), max(0.0, distance)
    for part in body.parts:
        x_lo = y_lo = math.inf
        x_hi = y_hi = -math.inf
        for i in range(part.first, part.last):
            side = body.sides[i]
            px, py = side.ax * c - side.ay * s, side.ax * s + side.ay * c
            x_lo, x_hi = min(x_lo, px), max(x_hi, px)
            y_lo, y_hi = min(y_lo, py), max(y_hi, py)
        x_lo += x + min(0.0, distance * c)
        x_hi += x + max(0.0, distance * c)
        y_lo += y + min(0.0, distance * s)
        y_hi += y + max(0.0, distance * s)
        if x_lo < walls.edges[0] or y_lo < walls.edges[1] or x_hi > walls.edges[2] or y_hi > walls.edges[3]:
            return EDGE
        for outline in walls.outlines:
            if x_lo >= outline.x_hi or x_hi <= outline.x_lo or y_lo >= outline.y_hi or y_hi <= outline.y_lo:
                continue
            if _beside(outline, part, at):
                continue
            for w in range(outline.first, outline.last):
                piece = walls.pieces[w]
                if x_lo >= piece.x_hi or x_hi <= piece.x_lo or y_lo >= piece.y_hi or y_hi <= piece.y_lo:
                    continue
                if part_meets(walls.sides, piece, body.sides, part, at, back, ahead):
                    return w
    return FREE


@inner
def part_meets(wall_sides, piece, body_sides, part, at, back, ahead):
    """Whether a part of the body, swept from ``back`` to ``ahead`` along its heading, enters a piece."""
    x, y, c, s = at
    u_lo = v_lo = math.inf
    u_hi = v_hi = -math.inf
    for j in range(piece.first, piece.last):
        side = wall_sides[j]
        dx, dy = side.ax - x, side.ay - y
        u, v = c * dx + s * dy, c * dy - s * dx
        u_lo, u_hi = min(u_lo, u), max(u_hi, u)
        v_lo, v_hi = min(v_lo, v), max(v_hi, v)
    if v_lo >= part.y_hi or v_hi <= part.y_lo or u_lo >= part.x_hi + ahead or u_hi <= part.x_lo + back:
        return False
    for j in range(piece.first, piece.last):  # the piece's own edges
        side = wall_sides[j]
        rx, ry = side.nx * c + side.ny * s, side.ny * c - side.nx * s
        least = math.inf
        for i in range(part.first, part.last):
            corner = body_sides[i]
            least = min(least, rx * corner.ax + ry * corner.ay)
        if side.nx * x + side.ny * y + least + min(rx * back, rx * ahead) >= side.support:
            return False
    for i in range(part.first, part.last):  # the part's edges
        side = body_sides[i]
        wx, wy = side.nx * c - side.ny * s, side.nx * s + side.ny * c
        limit = side.support + max(side.nx * back, side.nx * ahead) + wx * x + wy * y
        least = math.inf
        for j in range(piece.first, piece.last):
            corner = wall_sides[j]
            least = min(least, wx * corner.ax + wy * corner.ay)
        if least >= limit:
            return False
    return True


@inner
def pose_free(walls, body, x, y, heading):
    """Whether the body standing at a pose meets nothing."""
    return leg_is_free(walls, body, x, y, math.cos(heading), math.sin(heading), 0.0)


@inner
def full_circle(angle):
    """The angle in 0 to 2 pi. (A floor; numba's float remainder takes five times as long.)"""
    return angle - TWO_PI * np.floor(angle / TWO_PI)


@inner
def within_turn(angle, by):
    """Whether a heading change ``angle`` is passed while turning ``by`` (signed) from zero."""
    if by >= 0:
        return full_circle(angle) <= by
    return full_circle(-angle) <= -by


@inner
def _circle_hits(ax, ay, bx, by, radius):
    """Where the segment A to B meets the circle of ``radius`` about the origin: count and the two points."""
    dx, dy = bx - ax, by - ay
    a = dx * dx + dy * dy
    b = ax * dx + ay * dy
    q = b * b - a * (ax * ax + ay * ay - radius * radius)
    if q < 0 or a == 0:
        return 0, 0.0, 0.0, 0.0, 0.0
    root = math.sqrt(q)
    t1, t2 = (-b - root) / a, (-b + root) / a
    one = 0.0 <= t1 <= 1.0
    two = 0.0 <= t2 <= 1.0
    if one and two:
        return 2, ax + t1 * dx, ay + t1 * dy, ax + t2 * dx, ay + t2 * dy
    if one:
        return 1, ax + t1 * dx, ay + t1 * dy, 0.0, 0.0
    if two:
        return 1, ax + t2 * dx, ay + t2 * dy, 0.0, 0.0
    return 0, 0.0, 0.0, 0.0, 0.0


@inner
def _box_out_of_reach(box, x, y, reach):
    dx = max(box.x_lo - x, 0.0, x - box.x_hi)
    dy = max(box.y_lo - y, 0.0, y - box.y_hi)
    return dx * dx + dy * dy >= reach * reach


@inner
def _piece_out_of_reach(wall_sides, piece, x, y, reach):
    if _box_out_of_reach(piece, x, y, reach):
        return True
    for j in range(piece.first, piece.last):
        side = wall_sides[j]
        if side.nx * x + side.ny * y - side.support >= reach:
            return True
    return False


@inner
def edge_gap(edges, edge, x, y):
    """How far a point is from an edge of the table (0 left, 1 near, 2 right, 3 far), and the heading towards it."""
    if edge == 0:
        return x - edges[0], math.pi
    if edge == 1:
        return y - edges[1], -0.5 * math.pi
    if edge == 2:
        return edges[2] - x, 0.0
    return edges[3] - y, 0.5 * math.pi


@inner
def _noted(at, turning, out, count):
    """The count after a contact at a heading; -1 when it lies within the turn, or when ``out`` is full."""
    if out.size == 0:
        return -1 if within_turn(at - turning.heading, turning.by) else count
    if count == out.size:
        return -1
    out[count] = full_circle(at)
    return count + 1


@inner
def _edge_contacts(edges, body, turning, out):
    """Contacts of the body's corners with the table's edges."""
    count, x, y = 0, turning.x, turning.y
    if min(min(x - edges[0], y - edges[1]), min(edges[2] - x, edges[3] - y)) >= body.reach * (1.0 + DUST):
        return count
    for corner in body.sides:
        radius = math.hypot(corner.ax, corner.ay)
        for edge in range(4):
            gap, toward = edge_gap(edges, edge, turning.x, turning.y)
            if gap < radius and gap > -radius:
                own = math.atan2(corner.ay, corner.ax)
                half = math.acos(gap / radius)
                count = _noted(toward - half - own, turning, out, count)
                if count >= 0:
                    count = _noted(toward + half - own, turning, out, count)
                if count < 0:
                    return count
    return count


@inner
def squared_distances(side, x, y):
    """Squares of the least and the greatest distance of a point from a side of a piece."""
    ax, ay, bx, by = side.ax - x, side.ay - y, side.bx - x, side.by - y
    a, b = ax * ax + ay * ay, bx * bx + by * by
    off = side.nx * ax + side.ny * ay
    along_a, along_b = side.nx * ay - side.ny * ax, side.nx * by - side.ny * bx
    return (off * off if along_a * along_b < 0.0 else min(a, b)), max(a, b)


@inner
def _corner_contacts(side, body, turning, spans, out, count):
    """Contacts of the body's corners with one side of a piece, whose squared distances are known."""
    ax, ay, bx, by = side.ax - turning.x, side.ay - turning.y, side.bx - turning.x, side.by - turning.y
    for corner in body.sides:
        square = corner.ax * corner.ax + corner.ay * corner.ay
        if square < spans[0] * (1.0 - DUST) or square > spans[1] * (1.0 + DUST):
            continue  # the corner's circle passes the side by
        hits, x1, y1, x2, y2 = _circle_hits(ax, ay, bx, by, math.hypot(corner.ax, corner.ay))
        if hits > 0:
            own = math.atan2(corner.ay, corner.ax)
            count = _noted(math.atan2(y1, x1) - own, turning, out, count)
            if hits > 1 and count >= 0:
                count = _noted(math.atan2(y2, x2) - own, turning, out, count)
            if count < 0:
                return count
    return count


@inner
def _side_contacts(corner, body, turning, out, count):
    """Contacts of one corner of a piece with the body's sides."""
    cx, cy = corner.ax - turning.x, corner.ay - turning.y
    radius = math.hypot(cx, cy)
    if radius >= body.reach:
        return count
    for side in body.sides:
        hits, x1, y1, x2, y2 = _circle_hits(side.ax, side.ay, side.bx, side.by, radius)
        if hits > 0:
            own = math.atan2(cy, cx)
            count = _noted(own - math.atan2(y1, x1), turning, out, count)
            if hits > 1 and count >= 0:
                count = _noted(own - math.atan2(y2, x2), turning, out, count)
            if count < 0:
                return count
    return count


@inner
def contact_headings(walls, body, turning, out):
    """Headings at which the boundary of the body, turning about a point, touches the boundary of a wall.

    Both kinds of contact: a corner of the body on an edge of a wall, and a corner of a wall on an edge of the body.
    Every contact of the full circle is written to ``out``, as headings in 0 to 2 pi, and the count returned; -1 when
    ``out`` is too small. When ``out`` is empty, the answer is only whether the turn meets a contact (-1) or not (0).
    """
    count = _edge_contacts(walls.edges, body, turning, out)
    for outline in walls.outlines:
        if _box_out_of_reach(outline, turning.x, turning.y, body.reach):
            continue
        for w in range(outline.first, outline.last):
            piece = walls.pieces[w]
            if count < 0:
                return count
            if _piece_out_of_reach(walls.sides, piece, turning.x, turning.y, body.reach):
                continue
            for j in range(piece.first, piece.last):
                side = walls.sides[j]
                if side.inner != 0:
                    continue  # who touches it from outside has met the outline before
                spans = squared_distances(side, turning.x, turning.y)
                if spans[0] >= body.reach * body.reach * (1.0 + DUST):
                    continue
                count = _corner_contacts(side, body, turning, spans, out, count)
                if count >= 0:
                    count = _side_contacts(side, body, turning, out, count)
                if count < 0:
                    return count
    return count


@inner
def turn_free(walls, body, x, y, heading, by):
    """Whether the body, standing free at ``heading``, can turn ``by`` (signed radians) about (x, y).

    The pose at ``heading`` must itself be free (``pose_free``): from a free pose, no contact of the boundaries means
    no overlap.
    """
    if by == 0.0:
        return True
    return contact_headings(walls, body, Turning(x, y, heading, by), walls.edges[:0]) == 0


@inner
def _body_meets(walls, body, piece, at):
    """Whether a standing body enters a piece."""
    meets = False
    for part in body.parts:
        meets = meets or part_meets(walls.sides, piece, body.sides, part, at, 0.0, 0.0)
    return meets


@inner
def _sort(values, count):
    """Sort the first ``count`` values in place (Shell's sort)."""
    gap = 1
    while 3 * gap < count:
        gap = 3 * gap + 1
    while gap > 0:
        for i in range(gap, count):
            value, k = values[i], i
            while k >= gap and values[k - gap] > value:
                values[k] = values[k - gap]
                k -= gap
            values[k] = value
        gap //= 3


@inner
def free_arcs(walls, body, x, y, work, lo, hi):
    """All headings at which the body may stand at (x, y), as arcs.

    Parameters
    ----------
    work
        Scratch array for contact headings.
    lo, hi
        Filled with the ends of the free arcs (radians, lo in 0 to 2 pi, hi up to lo + 2 pi).

    Returns
    -------
    int
        The number of arcs; 0 when no heading is free; -1 when an array is too small (the caller raises).
    """
    count = contact_headings(walls, body, Turning(x, y, 0.0, 0.0), work)
    if count < 0:
        return -1
    if count == 0:
        if pose_free(walls, body, x, y, 0.0):
            lo[0], hi[0] = 0.0, TWO_PI
            return 1
        return 0
    _sort(work, count)
    arcs, met = 0, FREE
    for i in range(count):
        a = work[i]
        b = work[i + 1] if i + 1 < count else work[0] + TWO_PI
        if b - a < 1e-9:
            continue
        middle = 0.5 * (a + b)
        c, s = math.cos(middle), math.sin(middle)
        if met >= 0 and _body_meets(walls, body, walls.pieces[met], Facing(x, y, c, s)):
            continue  # what was met before mostly still is
        met = met_on_leg(walls, body, x, y, c, s, 0.0)
        if met == FREE:
            if arcs == lo.size:
                return -1
            lo[arcs], hi[arcs] = a, b
            arcs += 1
    return arcs
