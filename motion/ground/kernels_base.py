"""When a driving body is wholly inside the base, compiled.

Convex bases by closed form, others by their edges as walls.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

#: Driven on beyond the line, so that rounding noise does not leave the body on it, mm.
SURELY_MM = 1e-4


@njit(cache=True)
def _crossing_span(ax, ay, bx, by, body, k, x, y, c, s):
    """Span of travel t along the heading at which part k of the body meets the segment A to B; (inf, -inf) if never."""
    lo, hi = -math.inf, math.inf
    dx1, dy1, dx2, dy2 = ax - x, ay - y, bx - x, by - y
    u1, v1 = c * dx1 + s * dy1, c * dy1 - s * dx1
    u2, v2 = c * dx2 + s * dy2, c * dy2 - s * dx2
    if max(v1, v2) <= body.extent[k, 1] or min(v1, v2) >= body.extent[k, 3]:
        return math.inf, -math.inf
    for i in range(body.start[k], body.start[k + 1]):
        nx, ny = body.normal[i, 0], body.normal[i, 1]
        near = min(nx * u1 + ny * v1, nx * u2 + ny * v2)
        if abs(nx) < 1e-12:  # nothing changes along the travel
            if near >= body.support[i]:
                return math.inf, -math.inf
            continue
        t = (near - body.support[i]) / nx  # near - t nx < support
        if nx > 0:
            lo = max(lo, t)
        else:
            hi = min(hi, t)
    ex, ey = v2 - v1, u1 - u2  # the segment's normal
    at = ex * u1 + ey * v1
    most, least = -math.inf, math.inf
    for i in range(body.start[k], body.start[k + 1]):
        p = ex * body.xy[i, 0] + ey * body.xy[i, 1]
        most, least = max(most, p), min(least, p)
    if abs(ex) < 1e-12:
        if most <= at or least >= at:
            return math.inf, -math.inf
    else:
        t1, t2 = (at - most) / ex, (at - least) / ex
        lo, hi = max(lo, min(t1, t2)), min(hi, max(t1, t2))
    if lo >= hi:
        return math.inf, -math.inf
    return lo, hi


@njit(cache=True)
def inside_ring(ring, x, y):
    """Whether a point is inside a simple ring (N, 2), by counting crossings."""
    inside = False
    j = ring.shape[0] - 1
    for i in range(ring.shape[0]):
        if (ring[i, 1] > y) != (ring[j, 1] > y) and x < (ring[j, 0] - ring[i, 0]) * (y - ring[i, 1]) / (
            ring[j, 1] - ring[i, 1]
        ) + ring[i, 0]:
            inside = not inside
        j = i
    return inside


@njit(cache=True)
def _entry_convex(base, body, x, y, c, s, direction):
    enter, leave = 0.0, math.inf
    for j in range(base.xy.shape[0]):
        mx, my = base.normal[j, 0], base.normal[j, 1]
        rx, ry = mx * c + my * s, my * c - mx * s
        most = -math.inf
        for i in range(body.xy.shape[0]):
            most = max(most, rx * body.xy[i, 0] + ry * body.xy[i, 1])
        room = base.support[j] - (mx * x + my * y + most)
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


@njit(cache=True)
def base_entry(base, convex, body, x, y, c, s, direction):
    """How far to drive until the whole body is inside the base.

    Parameters
    ----------
    base
        The base's ring packed as :class:`motion.ground.geometry.Walls` with one piece (not necessarily convex).
    convex
        Whether that ring is convex.
    body
        The body at its true size.
    x, y, c, s
        Pose: position, cosine and sine of the heading.
    direction
        1.0 to drive ahead, -1.0 to back up.

    Returns
    -------
    float
        The least distance >= 0 after which the whole body is inside (and ``SURELY_MM`` more unless it already is);
        inf when this line never takes it in.
    """
    if convex:
        return _entry_convex(base, body, x, y, c, s, direction)
    n = base.xy.shape[0]
    parts = body.start.size - 1
    begins = np.empty(n * parts)
    ends = np.empty(n * parts)
    count = 0
    for j in range(n):
        f = j + 1 if j + 1 < n else 0
        for k in range(parts):
            lo, hi = _crossing_span(base.xy[j, 0], base.xy[j, 1], base.xy[f, 0], base.xy[f, 1], body, k, x, y, c, s)
            if lo < hi:
                begins[count] = lo if direction > 0 else -hi
                ends[count] = hi if direction > 0 else -lo
                count += 1
    order = np.argsort(begins[:count])
    t = 0.0
    for index in range(count + 1):
        blocked = index < count and begins[order[index]] < t + 1e-9
        if not blocked:
            inside = inside_ring(base.xy, x + direction * (t + 1e-7) * c, y + direction * (t + 1e-7) * s)
            if inside:
                return t + SURELY_MM if t > 0.0 else t
            if index == count:
                return math.inf
        t = max(t, ends[order[index]]) if index < count else t
    return math.inf


@njit(cache=True)
def inside_base(base, convex, body, x, y, heading):
    """Whether the whole body standing at a pose is inside the base."""
    return base_entry(base, convex, body, x, y, math.cos(heading), math.sin(heading), 1.0) <= 1e-6
