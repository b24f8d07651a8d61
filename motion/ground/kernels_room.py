"""How much room is left, compiled: least distance between a moving body and the walls.

Distances are exact when nothing overlaps. When something does, a leg's answer is minus the depth of the overlap (the
shortest shift that would part the swept part and the piece) and a turn's is minus the largest such depth over headings
a degree apart.
"""

from __future__ import annotations

import math

from numba import njit

from motion.ground.kernels import TWO_PI, _part_meets, _within_turn


@njit(cache=True)
def _point_segment(px, py, ax, ay, bx, by):
    dx, dy = bx - ax, by - ay
    a = dx * dx + dy * dy
    t = 0.0 if a == 0.0 else ((px - ax) * dx + (py - ay) * dy) / a
    t = min(1.0, max(0.0, t))
    return math.hypot(px - ax - t * dx, py - ay - t * dy)


@njit(cache=True)
def _segments_apart(ax, ay, bx, by, cx, cy, dx, dy):
    """Distance between two segments that do not cross."""
    return min(
        min(_point_segment(ax, ay, cx, cy, dx, dy), _point_segment(bx, by, cx, cy, dx, dy)),
        min(_point_segment(cx, cy, ax, ay, bx, by), _point_segment(dx, dy, ax, ay, bx, by)),
    )


@njit(cache=True)
def _depth(walls, w, body, k, x, y, c, s, back, ahead):
    """Least shift that parts piece w from part k swept from back to ahead; they overlap."""
    depth = math.inf
    for axis in range(2):
        ux, uy = (c, s) if axis == 0 else (-s, c)
        lo, hi = math.inf, -math.inf
        for j in range(walls.start[w], walls.start[w + 1]):
            p = ux * (walls.xy[j, 0] - x) + uy * (walls.xy[j, 1] - y)
            lo, hi = min(lo, p), max(hi, p)
        if axis == 0:
            depth = min(depth, min(hi - body.extent[k, 0] - back, body.extent[k, 2] + ahead - lo))
        else:
            depth = min(depth, min(hi - body.extent[k, 1], body.extent[k, 3] - lo))
    for j in range(walls.start[w], walls.start[w + 1]):
        mx, my = walls.normal[j, 0], walls.normal[j, 1]
        rx, ry = mx * c + my * s, my * c - mx * s
        least = math.inf
        for i in range(body.start[k], body.start[k + 1]):
            least = min(least, rx * body.xy[i, 0] + ry * body.xy[i, 1])
        depth = min(depth, walls.support[j] - (mx * x + my * y + least + min(rx * back, rx * ahead)))
    for i in range(body.start[k], body.start[k + 1]):
        nx, ny = body.normal[i, 0], body.normal[i, 1]
        wx, wy = nx * c - ny * s, nx * s + ny * c
        least = math.inf
        for j in range(walls.start[w], walls.start[w + 1]):
            least = min(least, wx * walls.xy[j, 0] + wy * walls.xy[j, 1])
        depth = min(depth, body.support[i] + max(nx * back, nx * ahead) + wx * x + wy * y - least)
    return depth


@njit(cache=True)
def _edge_room_leg(walls, body, x, y, c, s, distance):
    """Room to the four table edges along a leg: the least and which (0 left, 1 near, 2 right, 3 far)."""
    room, which = math.inf, 0
    for i in range(body.xy.shape[0]):
        px = x + body.xy[i, 0] * c - body.xy[i, 1] * s
        py = y + body.xy[i, 0] * s + body.xy[i, 1] * c
        for end in range(2):
            if end == 1:
                px += distance * c
                py += distance * s
            for e in range(4):
                if e == 0:
                    gap = px - walls.edges[0]
                elif e == 1:
                    gap = py - walls.edges[1]
                elif e == 2:
                    gap = walls.edges[2] - px
                else:
                    gap = walls.edges[3] - py
                if gap < room:
                    room, which = gap, e
    return room, which


@njit(cache=True)
def _piece_far(walls, w, x_lo, y_lo, x_hi, y_hi, limit):
    dx = max(walls.extent[w, 0] - x_hi, 0.0, x_lo - walls.extent[w, 2])
    dy = max(walls.extent[w, 1] - y_hi, 0.0, y_lo - walls.extent[w, 3])
    return limit > 0 and dx * dx + dy * dy >= limit * limit


@njit(cache=True)
def leg_piece_room(walls, w, body, k, x, y, c, s, distance):
    """Distance between piece w and part k swept along a leg; minus the depth when they overlap."""
    back, ahead = min(0.0, distance), max(0.0, distance)
    if _part_meets(walls, w, body, k, x, y, c, s, back, ahead):
        return -_depth(walls, w, body, k, x, y, c, s, back, ahead)
    room = math.inf
    tx, ty = distance * c, distance * s
    first, last = body.start[k], body.start[k + 1]
    w_first, w_last = walls.start[w], walls.start[w + 1]
    for i in range(first, last):
        n = i + 1 if i + 1 < last else first
        ax = x + body.xy[i, 0] * c - body.xy[i, 1] * s
        ay = y + body.xy[i, 0] * s + body.xy[i, 1] * c
        bx = x + body.xy[n, 0] * c - body.xy[n, 1] * s
        by = y + body.xy[n, 0] * s + body.xy[n, 1] * c
        # the swept part's edge: the part's own edge at whichever end of the leg lies farther out
        ex, ey = (tx, ty) if body.normal[i, 0] * distance > 0 else (0.0, 0.0)
        for j in range(w_first, w_last):
            f = j + 1 if j + 1 < w_last else w_first
            qx, qy, rx, ry = walls.xy[j, 0], walls.xy[j, 1], walls.xy[f, 0], walls.xy[f, 1]
            room = min(room, _segments_apart(ax + ex, ay + ey, bx + ex, by + ey, qx, qy, rx, ry))
            if distance != 0.0:
                room = min(room, _segments_apart(ax, ay, ax + tx, ay + ty, qx, qy, rx, ry))
    return room


@njit(cache=True)
def leg_room(walls, body, x, y, c, s, distance):
    """Least room along a leg and what is nearest.

    Parameters
    ----------
    walls, body
        Packed; pack the body with margin 0 for its true size.
    x, y, c, s
        Start of the leg, cosine and sine of its heading.
    distance
        Signed, mm.

    Returns
    -------
    (float, int)
        Room in mm (negative: overlap), and the piece's index, or n + 0..3 for the left, near, right and far edge,
        n the number of pieces.
    """
    pieces = walls.start.size - 1
    room, which = _edge_room_leg(walls, body, x, y, c, s, distance)
    which += pieces
    x_lo = x - body.reach + min(0.0, distance * c)
    x_hi = x + body.reach + max(0.0, distance * c)
    y_lo = y - body.reach + min(0.0, distance * s)
    y_hi = y + body.reach + max(0.0, distance * s)
    for w in range(pieces):
        if _piece_far(walls, w, x_lo, y_lo, x_hi, y_hi, room):
            continue
        for k in range(body.start.size - 1):
            gap = leg_piece_room(walls, w, body, k, x, y, c, s, distance)
            if gap < room:
                room, which = gap, w
    return room, which


@njit(cache=True)
def _arc_segment(radius, own, heading, by, ax, ay, bx, by_):
    """Distance from the arc of a point (radius, own + heading), turned by ``by`` about the origin, to a segment."""
    best = math.inf
    for end in range(2):
        at = own + heading + (by if end == 1 else 0.0)
        best = min(best, _point_segment(radius * math.cos(at), radius * math.sin(at), ax, ay, bx, by_))
    dx, dy = bx - ax, by_ - ay
    a = dx * dx + dy * dy
    for end in range(2):  # ends of the segment against the arc
        qx, qy = (ax, ay) if end == 0 else (bx, by_)
        if _within_turn(math.atan2(qy, qx) - own - heading, by):
            best = min(best, abs(math.hypot(qx, qy) - radius))
    t = 0.0 if a == 0.0 else -(ax * dx + ay * dy) / a
    if 0.0 < t < 1.0:  # the foot of the perpendicular from the pivot
        fx, fy = ax + t * dx, ay + t * dy
        if _within_turn(math.atan2(fy, fx) - own - heading, by):
            best = min(best, abs(math.hypot(fx, fy) - radius))
    b = ax * dx + ay * dy
    q = b * b - a * (ax * ax + ay * ay - radius * radius)
    if q >= 0.0 and a > 0.0:  # crossings
        root = math.sqrt(q)
        for sign in (-1.0, 1.0):
            t = (-b + sign * root) / a
            if 0.0 <= t <= 1.0 and _within_turn(math.atan2(ay + t * dy, ax + t * dx) - own - heading, by):
                return 0.0
    return best


@njit(cache=True)
def _turn_piece_room(walls, w, body, k, x, y, heading, by):
    room = leg_piece_room(walls, w, body, k, x, y, math.cos(heading), math.sin(heading), 0.0)
    if room > 0.0:
        first, last = body.start[k], body.start[k + 1]
        w_first, w_last = walls.start[w], walls.start[w + 1]
        for j in range(w_first, w_last):
            f = j + 1 if j + 1 < w_last else w_first
            ax, ay = walls.xy[j, 0] - x, walls.xy[j, 1] - y
            bx, by_ = walls.xy[f, 0] - x, walls.xy[f, 1] - y
            radius, own = math.hypot(ax, ay), math.atan2(ay, ax)
            for i in range(first, last):
                n = i + 1 if i + 1 < last else first
                vx, vy = body.xy[i, 0], body.xy[i, 1]
                room = min(room, _arc_segment(math.hypot(vx, vy), math.atan2(vy, vx), heading, by, ax, ay, bx, by_))
                # seen from the body, the wall's corner turns the other way
                room = min(room, _arc_segment(radius, own, -heading, -by, vx, vy, body.xy[n, 0], body.xy[n, 1]))
            if room <= 0.0:
                break
    if room <= 0.0:
        steps = max(1, math.ceil(abs(by) / math.radians(1.0)))
        for i in range(steps + 1):
            at = heading + by * i / steps
            gap = leg_piece_room(walls, w, body, k, x, y, math.cos(at), math.sin(at), 0.0)
            room = min(room, gap)
    return room


@njit(cache=True)
def _edge_room_turn(walls, body, x, y, heading, by):
    room, which = math.inf, 0
    for i in range(body.xy.shape[0]):
        radius = math.hypot(body.xy[i, 0], body.xy[i, 1])
        own = math.atan2(body.xy[i, 1], body.xy[i, 0])
        for e in range(4):
            if e == 0:
                gap, toward = x - walls.edges[0], math.pi
            elif e == 1:
                gap, toward = y - walls.edges[1], -0.5 * math.pi
            elif e == 2:
                gap, toward = walls.edges[2] - x, 0.0
            else:
                gap, toward = walls.edges[3] - y, 0.5 * math.pi
            if _within_turn(toward - own - heading, by):
                out = radius
            else:
                out = radius * max(math.cos(own + heading - toward), math.cos(own + heading + by - toward))
            if gap - out < room:
                room, which = gap - out, e
    return room, which


@njit(cache=True)
def turn_room(walls, body, x, y, heading, by):
    """Least room while turning ``by`` (signed radians) from ``heading`` about (x, y); as :func:`leg_room`."""
    by = max(-TWO_PI, min(TWO_PI, by))
    pieces = walls.start.size - 1
    room, which = _edge_room_turn(walls, body, x, y, heading, by)
    which += pieces
    for w in range(pieces):
        if _piece_far(walls, w, x - body.reach, y - body.reach, x + body.reach, y + body.reach, room):
            continue
        for k in range(body.start.size - 1):
            gap = _turn_piece_room(walls, w, body, k, x, y, heading, by)
            if gap < room:
                room, which = gap, w
    return room, which
