"""When a driving body is wholly inside the base, compiled.

Convex bases by closed form, others by their edges as walls.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner, inner_maker, kernel
from motion.ground.geometry import Body
from motion.ground.kernels import Facing

#: Driven on beyond the line, so that rounding noise does not leave the body on it, mm.
SURELY_MM = 1e-4


class Homing(NamedTuple):
    """What coming home asks for: the whole ``body``, at its true size, inside the ``base``.

    The base as the :data:`motion.ground.geometry.SIDE` of its ring; ``convex`` says whether that ring is.
    """

    base: np.ndarray
    convex: bool
    body: Body


@inner
def _crossing_span(wall, body_sides, part, at):
    """Span of travel t along the heading at which a part of the body meets a side; (inf, -inf) if never."""
    lo, hi = -math.inf, math.inf
    x, y, c, s = at
    dx1, dy1, dx2, dy2 = wall.ax - x, wall.ay - y, wall.bx - x, wall.by - y
    u1, v1 = c * dx1 + s * dy1, c * dy1 - s * dx1
    u2, v2 = c * dx2 + s * dy2, c * dy2 - s * dx2
    if max(v1, v2) <= part.y_lo or min(v1, v2) >= part.y_hi:
        return math.inf, -math.inf
    ex, ey = v2 - v1, u1 - u2  # the wall's normal
    at_wall = ex * u1 + ey * v1
    most, least = -math.inf, math.inf
    for i in range(part.first, part.last):
        side = body_sides[i]
        p = ex * side.ax + ey * side.ay
        most, least = max(most, p), min(least, p)
        near = min(side.nx * u1 + side.ny * v1, side.nx * u2 + side.ny * v2)
        if abs(side.nx) < 1e-12:  # nothing changes along the travel
            if near >= side.support:
                return math.inf, -math.inf
            continue
        t = (near - side.support) / side.nx  # near - t nx < support
        if side.nx > 0:
            lo = max(lo, t)
        else:
            hi = min(hi, t)
    if abs(ex) < 1e-12:
        if most <= at_wall or least >= at_wall:
            return math.inf, -math.inf
    else:
        t1, t2 = (at_wall - most) / ex, (at_wall - least) / ex
        lo, hi = max(lo, min(t1, t2)), min(hi, max(t1, t2))
    if lo >= hi:
        return math.inf, -math.inf
    return lo, hi


@inner
def _inside_ring(sides, x, y):
    """Whether a point is inside a simple ring, by counting crossings."""
    inside = False
    for side in sides:
        if (side.by > y) != (side.ay > y) and x < (side.ax - side.bx) * (y - side.by) / (side.ay - side.by) + side.bx:
            inside = not inside
    return inside


@inner
def _entry_convex(homing, at, direction):
    x, y, c, s = at
    enter, leave = 0.0, math.inf
    for side in homing.base:
        rx, ry = side.nx * c + side.ny * s, side.ny * c - side.nx * s
        most = -math.inf
        for corner in homing.body.sides:
            most = max(most, rx * corner.ax + ry * corner.ay)
        room = side.support - (side.nx * x + side.ny * y + most)
        speed = direction * rx
        if abs(speed) < 1e-12:
            if room < 0:
                return math.inf
        elif speed > 0:
            leave = min(leave, room / speed)
        else:
            enter = max(enter, room / speed)
    if enter > 0.0:
        enter += SURELY_MM
    return enter if enter <= leave else math.inf


@inner
def base_entry(homing, at, direction):
    """How far to drive until the whole body is inside the base.

    Parameters
    ----------
    homing, at
        As :class:`Homing` and :class:`motion.ground.kernels.Facing`.
    direction
        1.0 to drive ahead, -1.0 to back up.

    Returns
    -------
    float
        The least distance >= 0 after which the whole body is inside (and ``SURELY_MM`` more unless it already is);
        inf when this line never takes it in.
    """
    if homing.convex:
        return _entry_convex(homing, at, direction)
    return _entry_any(homing, at, direction)


@inner_maker
def _entry_any(homing, at, direction):
    """As :func:`base_entry`, for a base of any shape."""
    begins = np.empty(homing.base.size * homing.body.parts.size)
    ends = np.empty(homing.base.size * homing.body.parts.size)
    count = 0
    for wall in homing.base:
        for part in homing.body.parts:
            lo, hi = _crossing_span(wall, homing.body.sides, part, at)
            if lo < hi:
                begin, end = (lo, hi) if direction > 0 else (-hi, -lo)
                slot = count
                while slot > 0 and begins[slot - 1] > begin:  # in order of their begins
                    begins[slot], ends[slot] = begins[slot - 1], ends[slot - 1]
                    slot -= 1
                begins[slot], ends[slot] = begin, end
                count += 1
    t = 0.0
    for index in range(count + 1):
        if index == count or begins[index] >= t + 1e-9:
            ahead = direction * (t + 1e-7)
            if _inside_ring(homing.base, at.x + ahead * at.c, at.y + ahead * at.s):
                return t + SURELY_MM if t > 0.0 else t
        if index < count:
            t = max(t, ends[index])
    return math.inf


@kernel
def inside_base(homing, x, y, heading):
    """Whether the whole body standing at a pose (mm, rad) is inside the base."""
    return is_inside_base(homing, x, y, heading)


@inner
def is_inside_base(homing, x, y, heading):
    """As :func:`inside_base`, for kernels."""
    return base_entry(homing, Facing(x, y, math.cos(heading), math.sin(heading)), 1.0) <= 1e-6
