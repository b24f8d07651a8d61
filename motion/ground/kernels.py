"""Exact tests of one leg or one turn against the walls, compiled.

All take packed arrays (:class:`motion.ground.geometry.Walls`, :class:`motion.ground.geometry.Body`), mm and radians. A body meets
nothing when it does not enter; the body is packed smaller by ``TOUCH_MM`` so that touching is allowed.

The functions are compiled with ``cache=True``; when one of them changes, remove ``motion/__pycache__/*.nb?`` first
(``manage.py warm`` must), because numba looks only at the caller's own file.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

TWO_PI = 2 * math.pi


@njit(cache=True)
def leg_free(walls, body, x, y, c, s, distance):
    """Whether the body, driving ``distance`` (signed) from (x, y) along heading (c, s), meets nothing.

    Separating axes between each convex piece and the swept part (a convex part extended along its own x axis):
    the leg's two axes, the piece's edges, the part's edges. Exact for convex shapes in the plane.
    """
    for k in range(body.start.size - 1):
        first, last = body.start[k], body.start[k + 1]
        x_lo = x_hi = body.xy[first, 0] * c - body.xy[first, 1] * s
        y_lo = y_hi = body.xy[first, 0] * s + body.xy[first, 1] * c
        for i in range(first + 1, last):
            px = body.xy[i, 0] * c - body.xy[i, 1] * s
            py = body.xy[i, 0] * s + body.xy[i, 1] * c
            x_lo, x_hi = min(x_lo, px), max(x_hi, px)
            y_lo, y_hi = min(y_lo, py), max(y_hi, py)
        x_lo += x + min(0.0, distance * c)
        x_hi += x + max(0.0, distance * c)
        y_lo += y + min(0.0, distance * s)
        y_hi += y + max(0.0, distance * s)
        if x_lo < walls.edges[0] or y_lo < walls.edges[1] or x_hi > walls.edges[2] or y_hi > walls.edges[3]:
            return False
        back, ahead = min(0.0, distance), max(0.0, distance)
        for w in range(walls.start.size - 1):
            if (
                x_lo >= walls.extent[w, 2]
                or x_hi <= walls.extent[w, 0]
                or y_lo >= walls.extent[w, 3]
                or y_hi <= walls.extent[w, 1]
            ):
                continue
            if _part_meets(walls, w, body, k, x, y, c, s, back, ahead):
                return False
    return True


@njit(cache=True)
def _part_meets(walls, w, body, k, x, y, c, s, back, ahead):
    """Whether part k of the body, swept from ``back`` to ``ahead`` along its heading, enters piece w."""
    first, last = walls.start[w], walls.start[w + 1]
    u_lo = v_lo = math.inf
    u_hi = v_hi = -math.inf
    for j in range(first, last):
        dx, dy = walls.xy[j, 0] - x, walls.xy[j, 1] - y
        u, v = c * dx + s * dy, c * dy - s * dx
        u_lo, u_hi = min(u_lo, u), max(u_hi, u)
        v_lo, v_hi = min(v_lo, v), max(v_hi, v)
    if (
        v_lo >= body.extent[k, 3]
        or v_hi <= body.extent[k, 1]
        or u_lo >= body.extent[k, 2] + ahead
        or u_hi <= body.extent[k, 0] + back
    ):
        return False
    b_first, b_last = body.start[k], body.start[k + 1]
    for j in range(first, last):  # the piece's own edges
        mx, my = walls.normal[j, 0], walls.normal[j, 1]
        rx, ry = mx * c + my * s, my * c - mx * s
        least = math.inf
        for i in range(b_first, b_last):
            least = min(least, rx * body.xy[i, 0] + ry * body.xy[i, 1])
        if mx * x + my * y + least + min(rx * back, rx * ahead) >= walls.support[j]:
            return False
    for i in range(b_first, b_last):  # the part's edges
        nx, ny = body.normal[i, 0], body.normal[i, 1]
        wx, wy = nx * c - ny * s, nx * s + ny * c
        limit = body.support[i] + max(nx * back, nx * ahead) + wx * x + wy * y
        least = math.inf
        for j in range(first, last):
            least = min(least, wx * walls.xy[j, 0] + wy * walls.xy[j, 1])
        if least >= limit:
            return False
    return True


@njit(cache=True)
def pose_free(walls, body, x, y, heading):
    """Whether the body standing at a pose meets nothing."""
    return leg_free(walls, body, x, y, math.cos(heading), math.sin(heading), 0.0)


@njit(cache=True)
def full_circle(angle):
    """The angle in 0 to 2 pi. (A floor; numba's float remainder takes five times as long.)"""
    return angle - TWO_PI * np.floor(angle / TWO_PI)


@njit(cache=True)
def _within_turn(angle, by):
    """Whether a heading change ``angle`` is passed while turning ``by`` (signed) from zero."""
    if by >= 0:
        return full_circle(angle) <= by
    return full_circle(-angle) <= -by


@njit(cache=True)
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


@njit(cache=True)
def _piece_out_of_reach(walls, w, x, y, reach):
    dx = max(walls.extent[w, 0] - x, 0.0, x - walls.extent[w, 2])
    dy = max(walls.extent[w, 1] - y, 0.0, y - walls.extent[w, 3])
    if dx * dx + dy * dy >= reach * reach:
        return True
    for j in range(walls.start[w], walls.start[w + 1]):
        if walls.normal[j, 0] * x + walls.normal[j, 1] * y - walls.support[j] >= reach:
            return True
    return False


@njit(cache=True)
def contact_headings(walls, body, x, y, heading, by, listing, out):
    """Headings at which the boundary of the body, turning about (x, y), touches the boundary of a wall.

    Both kinds of contact: a corner of the body on an edge of a wall, and a corner of a wall on an edge of the body.
    When not ``listing`` the answer is only whether there is a contact within the turn ``by`` from ``heading`` (1 or
    0), and ``out`` is left alone. Otherwise every contact of the full circle is written to it, as headings in 0 to
    2 pi, and the count returned; -1 when ``out`` is too small.
    """
    count = 0
    for i in range(body.xy.shape[0]):
        bx, by_ = body.xy[i, 0], body.xy[i, 1]
        radius = math.hypot(bx, by_)
        for e in range(4):
            if e == 0:
                gap, toward = x - walls.edges[0], math.pi
            elif e == 1:
                gap, toward = y - walls.edges[1], -0.5 * math.pi
            elif e == 2:
                gap, toward = walls.edges[2] - x, 0.0
            else:
                gap, toward = walls.edges[3] - y, 0.5 * math.pi
            if gap < radius and gap > -radius:
                own = math.atan2(by_, bx)
                half = math.acos(gap / radius)
                for sign in (-1.0, 1.0):
                    at = toward + sign * half - own
                    if listing:
                        if count == out.size:
                            return -1
                        out[count] = full_circle(at)
                        count += 1
                    elif _within_turn(at - heading, by):
                        return 1
    for w in range(walls.start.size - 1):
        if _piece_out_of_reach(walls, w, x, y, body.reach):
            continue
        first, last = walls.start[w], walls.start[w + 1]
        for j in range(first, last):
            following = j + 1 if j + 1 < last else first
            ax, ay = walls.xy[j, 0] - x, walls.xy[j, 1] - y
            qx, qy = walls.xy[following, 0] - x, walls.xy[following, 1] - y
            for i in range(body.xy.shape[0]):  # body corners on this edge
                radius = math.hypot(body.xy[i, 0], body.xy[i, 1])
                hits, x1, y1, x2, y2 = _circle_hits(ax, ay, qx, qy, radius)
                if hits > 0:
                    own = math.atan2(body.xy[i, 1], body.xy[i, 0])
                    for h in range(hits):
                        at = (math.atan2(y1, x1) if h == 0 else math.atan2(y2, x2)) - own
                        if listing:
                            if count == out.size:
                                return -1
                            out[count] = full_circle(at)
                            count += 1
                        elif _within_turn(at - heading, by):
                            return 1
            radius = math.hypot(ax, ay)
            if radius >= body.reach:
                continue
            for k in range(body.start.size - 1):  # this corner on the body's edges
                b_first, b_last = body.start[k], body.start[k + 1]
                for i in range(b_first, b_last):
                    n = i + 1 if i + 1 < b_last else b_first
                    hits, x1, y1, x2, y2 = _circle_hits(
                        body.xy[i, 0], body.xy[i, 1], body.xy[n, 0], body.xy[n, 1], radius
                    )
                    if hits > 0:
                        own = math.atan2(ay, ax)
                        for h in range(hits):
                            at = own - (math.atan2(y1, x1) if h == 0 else math.atan2(y2, x2))
                            if listing:
                                if count == out.size:
                                    return -1
                                out[count] = full_circle(at)
                                count += 1
                            elif _within_turn(at - heading, by):
                                return 1
    return count


@njit(cache=True)
def turn_free(walls, body, x, y, heading, by):
    """Whether the body, standing free at ``heading``, can turn ``by`` (signed radians) about (x, y).

    The pose at ``heading`` must itself be free (``pose_free``): from a free pose, no contact of the boundaries means
    no overlap.
    """
    if by == 0.0:
        return True
    return contact_headings(walls, body, x, y, heading, by, False, walls.edges) == 0


@njit(cache=True)
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
    count = contact_headings(walls, body, x, y, 0.0, 0.0, True, work)
    if count < 0:
        return -1
    if count == 0:
        if pose_free(walls, body, x, y, 0.0):
            lo[0], hi[0] = 0.0, TWO_PI
            return 1
        return 0
    events = np.sort(work[:count])
    arcs = 0
    for i in range(count):
        a = events[i]
        b = events[i + 1] if i + 1 < count else events[0] + TWO_PI
        if b - a < 1e-9:
            continue
        if pose_free(walls, body, x, y, 0.5 * (a + b)):
            if arcs == lo.size:
                return -1
            lo[arcs], hi[arcs] = a, b
            arcs += 1
    return arcs


@njit(cache=True)
def travel_seconds(distance, speed, acceleration):
    """Seconds for a distance (or angle) from rest to rest with equal acceleration and braking, without the settle."""
    d = abs(distance)
    if d == 0.0:
        return 0.0
    if d >= speed * speed / acceleration:
        return d / speed + speed / acceleration
    return 2.0 * math.sqrt(d / acceleration)
