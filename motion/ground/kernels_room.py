"""How much room is left, compiled: least distance between a moving body and the walls.

Distances are exact when nothing overlaps. When something does, a leg's answer is minus the depth of the overlap (the
shortest shift that would part the swept part and the piece) and a turn's is minus the largest such depth over headings
a degree apart.
"""

from __future__ import annotations

import math

from motion.compiled import inner, kernel
from motion.ground.kernels import TWO_PI, Facing, Turning, edge_gap, part_meets, squared_distances, within_turn

#: What rounding may take from a bound of a distance, mm.
SURELY_MM = 1e-6


@inner
def _point_segment(px, py, ax, ay, bx, by):
    dx, dy = bx - ax, by - ay
    a = dx * dx + dy * dy
    t = 0.0 if a == 0.0 else ((px - ax) * dx + (py - ay) * dy) / a
    t = min(1.0, max(0.0, t))
    return math.hypot(px - ax - t * dx, py - ay - t * dy)


@inner
def _segments_apart(ax, ay, bx, by, wall):
    """Distance between the segment from a to b and a side that it does not cross."""
    return min(
        min(
            _point_segment(ax, ay, wall.ax, wall.ay, wall.bx, wall.by),
            _point_segment(bx, by, wall.ax, wall.ay, wall.bx, wall.by),
        ),
        min(_point_segment(wall.ax, wall.ay, ax, ay, bx, by), _point_segment(wall.bx, wall.by, ax, ay, bx, by)),
    )


@inner
def _depth(wall_sides, piece, body_sides, part, at, back, ahead):
    """Least shift that parts a piece from a part swept from back to ahead; they overlap."""
    x, y, c, s = at
    u_lo = v_lo = math.inf
    u_hi = v_hi = -math.inf
    for j in range(piece.first, piece.last):
        corner = wall_sides[j]
        u, v = c * (corner.ax - x) + s * (corner.ay - y), -s * (corner.ax - x) + c * (corner.ay - y)
        u_lo, u_hi = min(u_lo, u), max(u_hi, u)
        v_lo, v_hi = min(v_lo, v), max(v_hi, v)
    depth = min(u_hi - part.x_lo - back, part.x_hi + ahead - u_lo)
    depth = min(depth, min(v_hi - part.y_lo, part.y_hi - v_lo))
    for j in range(piece.first, piece.last):
        side = wall_sides[j]
        rx, ry = side.nx * c + side.ny * s, side.ny * c - side.nx * s
        least = math.inf
        for i in range(part.first, part.last):
            least = min(least, rx * body_sides[i].ax + ry * body_sides[i].ay)
        depth = min(depth, side.support - (side.nx * x + side.ny * y + least + min(rx * back, rx * ahead)))
    for i in range(part.first, part.last):
        side = body_sides[i]
        wx, wy = side.nx * c - side.ny * s, side.nx * s + side.ny * c
        least = math.inf
        for j in range(piece.first, piece.last):
            least = min(least, wx * wall_sides[j].ax + wy * wall_sides[j].ay)
        depth = min(depth, side.support + max(side.nx * back, side.nx * ahead) + wx * x + wy * y - least)
    return depth


@inner
def _edge_room_leg(edges, body_sides, at, distance):
    """Room to the four table edges along a leg: the least and which (0 left, 1 near, 2 right, 3 far)."""
    x, y, c, s = at
    room, which = math.inf, 0
    for corner in body_sides:
        px = x + corner.ax * c - corner.ay * s
        py = y + corner.ax * s + corner.ay * c
        for end in range(2):
            if end == 1:
                px += distance * c
                py += distance * s
            for e in range(4):
                gap, _ = edge_gap(edges, e, px, py)
                if gap < room:
                    room, which = gap, e
    return room, which


@inner
def _piece_far(piece, x_lo, y_lo, x_hi, y_hi, limit):
    dx = max(piece.x_lo - x_hi, 0.0, x_lo - piece.x_hi)
    dy = max(piece.y_lo - y_hi, 0.0, y_lo - piece.y_hi)
    return limit > 0 and dx * dx + dy * dy >= limit * limit


@inner
def _aside(box, body, at):
    """A body's least distance to a box, measured across its heading alone."""
    y_lo, y_hi = math.inf, -math.inf
    for part in body.parts:
        y_lo, y_hi = min(y_lo, part.y_lo), max(y_hi, part.y_hi)
    across = at.c * (0.5 * (box.y_lo + box.y_hi) - at.y) - at.s * (0.5 * (box.x_lo + box.x_hi) - at.x)
    half = 0.5 * (abs(at.c) * (box.y_hi - box.y_lo) + abs(at.s) * (box.x_hi - box.x_lo))
    return max(across - half - y_hi, y_lo - across - half)


@inner
def _leg_piece_room(wall_sides, piece, body_sides, part, at, distance):
    """Distance between a piece and a part swept along a leg; minus the depth when they overlap."""
    back, ahead = min(0.0, distance), max(0.0, distance)
    if part_meets(wall_sides, piece, body_sides, part, at, back, ahead):
        return -_depth(wall_sides, piece, body_sides, part, at, back, ahead)
    x, y, c, s = at
    room = math.inf
    tx, ty = distance * c, distance * s
    for i in range(part.first, part.last):
        side = body_sides[i]
        ax, ay = x + side.ax * c - side.ay * s, y + side.ax * s + side.ay * c
        bx, by = x + side.bx * c - side.by * s, y + side.bx * s + side.by * c
        # the swept part's edge: the part's own edge at whichever end of the leg lies farther out
        ex, ey = (tx, ty) if side.nx * distance > 0 else (0.0, 0.0)
        for j in range(piece.first, piece.last):
            wall = wall_sides[j]
            room = min(room, _segments_apart(ax + ex, ay + ey, bx + ex, by + ey, wall))
            if distance != 0.0:
                room = min(room, _segments_apart(ax, ay, ax + tx, ay + ty, wall))
    return room


@kernel
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
    at = Facing(x, y, c, s)
    room, which = _edge_room_leg(walls.edges, body.sides, at, distance)
    which += walls.pieces.size
    x_lo = x - body.reach + min(0.0, distance * c)
    x_hi = x + body.reach + max(0.0, distance * c)
    y_lo = y - body.reach + min(0.0, distance * s)
    y_hi = y + body.reach + max(0.0, distance * s)
    for outline in walls.outlines:
        if _piece_far(outline, x_lo, y_lo, x_hi, y_hi, room) or _aside(outline, body, at) > max(room, 0.0):
            continue
        for w in range(outline.first, outline.last):
            piece = walls.pieces[w]
            if _piece_far(piece, x_lo, y_lo, x_hi, y_hi, room) or _aside(piece, body, at) > max(room, 0.0):
                continue
            for part in body.parts:
                gap = _leg_piece_room(walls.sides, piece, body.sides, part, at, distance)
                if gap < room:
                    room, which = gap, w
    return room, which


@inner
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
        if within_turn(math.atan2(qy, qx) - own - heading, by):
            best = min(best, abs(math.hypot(qx, qy) - radius))
    t = 0.0 if a == 0.0 else -(ax * dx + ay * dy) / a
    if 0.0 < t < 1.0:  # the foot of the perpendicular from the pivot
        fx, fy = ax + t * dx, ay + t * dy
        if within_turn(math.atan2(fy, fx) - own - heading, by):
            best = min(best, abs(math.hypot(fx, fy) - radius))
    b = ax * dx + ay * dy
    q = b * b - a * (ax * ax + ay * ay - radius * radius)
    if q >= 0.0 and a > 0.0:  # crossings
        root = math.sqrt(q)
        for sign in (-1.0, 1.0):
            t = (-b + sign * root) / a
            if 0.0 <= t <= 1.0 and within_turn(math.atan2(ay + t * dy, ax + t * dx) - own - heading, by):
                return 0.0
    return best


@inner
def _least_apart(spans, radius):
    """No more than how far a circle about a point is from a side whose squared distances from that point are given."""
    return max(math.sqrt(spans[0]) - radius, radius - math.sqrt(spans[1])) - SURELY_MM


@inner
def _turn_piece_room(wall_sides, piece, body_sides, part, turning, limit):
    """Room beside a piece in a turn; where it is ``limit`` or more, any number that is no less."""
    x, y, heading, by = turning
    at = Facing(x, y, math.cos(heading), math.sin(heading))
    room = _leg_piece_room(wall_sides, piece, body_sides, part, at, 0.0)
    if room > 0.0:
        for j in range(piece.first, piece.last):
            wall = wall_sides[j]
            ax, ay, bx, by_ = wall.ax - x, wall.ay - y, wall.bx - x, wall.by - y
            radius, own, spans = math.hypot(ax, ay), math.atan2(ay, ax), squared_distances(wall, x, y)
            for i in range(part.first, part.last):
                side = body_sides[i]
                vx, vy = side.ax, side.ay
                far = math.hypot(vx, vy)
                if _least_apart(spans, far) < max(min(room, limit), 0.0):
                    room = min(room, _arc_segment(far, math.atan2(vy, vx), heading, by, ax, ay, bx, by_))
                # seen from the body, the wall's corner turns the other way
                if _least_apart(squared_distances(side, 0.0, 0.0), radius) < max(min(room, limit), 0.0):
                    room = min(room, _arc_segment(radius, own, -heading, -by, vx, vy, side.bx, side.by))
            if room <= 0.0:
                break
    if room <= 0.0:
        steps = max(1, math.ceil(abs(by) / math.radians(1.0)))
        for i in range(steps + 1):
            turned = heading + by * i / steps
            at = Facing(x, y, math.cos(turned), math.sin(turned))
            room = min(room, _leg_piece_room(wall_sides, piece, body_sides, part, at, 0.0))
    return room


@inner
def _edge_room_turn(edges, body_sides, turning):
    x, y, heading, by = turning
    room, which = math.inf, 0
    for corner in body_sides:
        radius = math.hypot(corner.ax, corner.ay)
        own = math.atan2(corner.ay, corner.ax)
        for e in range(4):
            gap, toward = edge_gap(edges, e, x, y)
            if within_turn(toward - own - heading, by):
                out = radius
            else:
                out = radius * max(math.cos(own + heading - toward), math.cos(own + heading + by - toward))
            if gap - out < room:
                room, which = gap - out, e
    return room, which


@inner
def _box_gap(box, x, y):
    """Distance of a point from a box."""
    return math.hypot(max(box.x_lo - x, 0.0, x - box.x_hi), max(box.y_lo - y, 0.0, y - box.y_hi))


@inner
def _room_about(walls, body, turning):
    """Room left while turning beside the outline whose box is nearest: no more than that is left beside all."""
    nearest, gap, room = -1, math.inf, math.inf
    for o in range(walls.outlines.size):
        here = _box_gap(walls.outlines[o], turning.x, turning.y)
        if here < gap:
            nearest, gap = o, here
    if nearest >= 0:
        for w in range(walls.outlines[nearest].first, walls.outlines[nearest].last):
            piece = walls.pieces[w]
            if _box_gap(piece, turning.x, turning.y) - body.reach > max(room, 0.0):
                continue
            for part in body.parts:
                room = min(room, _turn_piece_room(walls.sides, piece, body.sides, part, turning, room))
    return room


@kernel
def turn_room(walls, body, x, y, heading, by):
    """Least room while turning ``by`` (signed radians) from ``heading`` about (x, y); as :func:`leg_room`."""
    turning = Turning(x, y, heading, max(-TWO_PI, min(TWO_PI, by)))
    room, which = _edge_room_turn(walls.edges, body.sides, turning)
    which += walls.pieces.size
    most = max(0.0, min(room, _room_about(walls, body, turning)))
    for outline in walls.outlines:
        if _box_gap(outline, x, y) - body.reach > most:
            continue
        for w in range(outline.first, outline.last):
            piece = walls.pieces[w]
            if _box_gap(piece, x, y) - body.reach > most:
                continue
            for part in body.parts:
                gap = _turn_piece_room(walls.sides, piece, body.sides, part, turning, room)
                if gap < room:
                    room, which = gap, w
            most = min(most, max(room, 0.0))
    return room, which
