"""Lines that keep a moving body and a wall apart, compiled: a cheap proof that a drifted run still touches nothing.

For each wall near an exact action one line is chosen, with the wall wholly beyond it and the swept body before it by the
widest gap. A drifted run whose body stays before all of these lines is free; only the others need the exact test.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from motion.compiled import inner

#: A body must stay this far (mm) before a line, since departures are float32.
BEFORE_MM = 2e-3
#: Lines are chosen for walls that are nearer than this (mm) to what the body sweeps; farther drifts are tested exactly.
NEAR_MM = 250.0
#: An outline that a line parts from what the body sweeps by this much (mm) has one line, not one for each of its pieces.
APART_MM = 40.0


class Sweep(NamedTuple):
    """A turn or a leg: from where (mm), cosine and sine of the headings before and after it, and how much.

    ``turning``: ``amount`` is in radians, signed; otherwise it is the signed distance of a leg in mm.
    """

    turning: bool
    x: float
    y: float
    c0: float
    s0: float
    c1: float
    s1: float
    amount: float


@inner
def sweep_of(turning, x, y, heading, amount):
    """The sweep of an action from a heading (rad)."""
    c0, s0 = math.cos(heading), math.sin(heading)
    c1, s1 = (math.cos(heading + amount), math.sin(heading + amount)) if turning else (c0, s0)
    return Sweep(turning, x, y, c0, s0, c1, s1, amount)


@inner
def leg_reach(nx, ny, body, sweep):
    """How far along the unit vector n a body gets on a leg."""
    a, b = nx * sweep.c0 + ny * sweep.s0, ny * sweep.c0 - nx * sweep.s0
    most = -math.inf
    for corner in body.sides:
        most = max(most, a * corner.ax + b * corner.ay)
    return nx * sweep.x + ny * sweep.y + most + max(0.0, a * sweep.amount)


@inner
def turn_reach(nx, ny, body, sweep):
    """How far along n a body gets on a turn."""
    a0, b0 = nx * sweep.c0 + ny * sweep.s0, ny * sweep.c0 - nx * sweep.s0
    a1, b1 = nx * sweep.c1 + ny * sweep.s1, ny * sweep.c1 - nx * sweep.s1
    most = -math.inf
    for corner in body.sides:
        u, v = corner.ax, corner.ay
        rising, still = b0 * u - a0 * v, b1 * u - a1 * v
        if sweep.amount < 0:
            rising, still = -rising, -still
        if abs(sweep.amount) >= math.pi or (rising > 0.0 and still < 0.0):
            most = max(most, math.hypot(u, v))
        else:
            most = max(most, max(a0 * u + b0 * v, a1 * u + b1 * v))
    return nx * sweep.x + ny * sweep.y + most


@inner
def _reach(nx, ny, body, sweep):
    return turn_reach(nx, ny, body, sweep) if sweep.turning else leg_reach(nx, ny, body, sweep)


@inner
def _direction(walls, body, sweep, piece, j):
    """The jth direction in which a line may part a piece from the body; (0, 0) for none."""
    corners = piece.last - piece.first
    if j < corners:  # the wall's own edges
        side = walls.sides[piece.first + j]
        return -side.nx, -side.ny
    j -= corners
    if j < corners:  # from the robot to the wall's corners
        side = walls.sides[piece.first + j]
        nx, ny = side.ax - sweep.x, side.ay - sweep.y
        size = math.hypot(nx, ny)
        return (0.0, 0.0) if size < 1e-9 else (nx / size, ny / size)
    j -= corners
    if j < body.sides.size:  # the body's edges
        side = body.sides[j]
        return side.nx * sweep.c0 - side.ny * sweep.s0, side.nx * sweep.s0 + side.ny * sweep.c0
    aside = 1.0 if j == body.sides.size else -1.0  # the sides of the way
    return -sweep.s0 * aside, sweep.c0 * aside


@inner
def _enter(lines, count, nx, ny, offset, gap):
    """Put a line where its gap belongs, narrowest first."""
    k = count
    while k > 0 and lines[k - 1, 3] > gap:
        for i in range(4):
            lines[k, i] = lines[k - 1, i]
        k -= 1
    lines[k, 0], lines[k, 1], lines[k, 2], lines[k, 3] = nx, ny, offset, gap


@inner
def _far(box, body, sweep):
    """Whether a box lies at least :data:`NEAR_MM` from all that a body sweeps."""
    far = 0.0 if sweep.turning else sweep.amount
    dx, dy = far * sweep.c0, far * sweep.s0
    reach = body.reach + NEAR_MM
    return (
        box.x_lo >= sweep.x + max(0.0, dx) + reach
        or box.x_hi <= sweep.x + min(0.0, dx) - reach
        or box.y_lo >= sweep.y + max(0.0, dy) + reach
        or box.y_hi <= sweep.y + min(0.0, dy) - reach
    )


@inner
def lines_of(walls, body, sweep, lines):
    """Fill ``lines`` (pieces + 4, 4) with nx, ny, offset and gap of one line a near wall, nearest first; how many.

    A wall lies where n . q >= offset; a gap of zero or less says that no line was found. Walls without a line are at
    least :data:`NEAR_MM` away. A line may stand for a whole outline.
    """
    count = 0
    for outline in walls.outlines:
        if _far(outline, body, sweep):
            continue
        if outline.last - outline.first > 1 and _enter_whole(outline, body, sweep, lines, count):
            count += 1
            continue
        for w in range(outline.first, outline.last):
            if not _far(walls.pieces[w], body, sweep):
                _enter_line(walls, body, sweep, walls.pieces[w], lines, count)
                count += 1
    for edge in range(4):
        nx, ny = (-1.0, 0.0) if edge == 0 else ((0.0, -1.0) if edge == 1 else ((1.0, 0.0) if edge == 2 else (0.0, 1.0)))
        offset = -walls.edges[edge] if edge < 2 else walls.edges[edge]
        _enter(lines, count, nx, ny, offset, offset - _reach(nx, ny, body, sweep))
        count += 1
    return count


@inner
def _enter_whole(outline, body, sweep, lines, count):
    """Put a line that parts the box around an outline widely from the swept body among the lines; whether there is one.

    Along the table's edges, from the robot to the middle of the box, and on a leg along it and across.
    """
    middle_x, middle_y = 0.5 * (outline.x_lo + outline.x_hi), 0.5 * (outline.y_lo + outline.y_hi)
    half_x, half_y = 0.5 * (outline.x_hi - outline.x_lo), 0.5 * (outline.y_hi - outline.y_lo)
    to_x, to_y = middle_x - sweep.x, middle_y - sweep.y
    size = math.hypot(to_x, to_y)
    best, best_x, best_y, best_offset = -math.inf, 0.0, 0.0, 0.0
    for j in range(5 if sweep.turning else 9):
        if j == 0:
            if size < 1e-9:
                continue
            nx, ny = to_x / size, to_y / size
        elif j < 5:
            nx, ny = (1.0, 0.0) if j == 1 else ((-1.0, 0.0) if j == 2 else ((0.0, 1.0) if j == 3 else (0.0, -1.0)))
        elif j < 7:
            nx, ny = (-sweep.s0, sweep.c0) if j == 5 else (sweep.s0, -sweep.c0)
        else:
            nx, ny = (sweep.c0, sweep.s0) if j == 7 else (-sweep.c0, -sweep.s0)
        offset = nx * middle_x + ny * middle_y - abs(nx) * half_x - abs(ny) * half_y
        gap = offset - _reach(nx, ny, body, sweep)
        if gap > best:
            best, best_x, best_y, best_offset = gap, nx, ny, offset
    if best < APART_MM:
        return False
    _enter(lines, count, best_x, best_y, best_offset, best)
    return True


@inner
def _enter_line(walls, body, sweep, piece, lines, count):
    """Put the line that parts a piece from the swept body by the widest gap among the lines."""
    best, best_x, best_y, best_offset = -math.inf, 0.0, 0.0, 0.0
    for j in range(2 * (piece.last - piece.first) + (0 if sweep.turning else body.sides.size + 2)):
        nx, ny = _direction(walls, body, sweep, piece, j)
        if nx == 0.0 and ny == 0.0:
            continue
        offset = math.inf
        for q in range(piece.first, piece.last):
            offset = min(offset, nx * walls.sides[q].ax + ny * walls.sides[q].ay)
        gap = offset - _reach(nx, ny, body, sweep)
        if gap > best:
            best, best_x, best_y, best_offset = gap, nx, ny, offset
    _enter(lines, count, best_x, best_y, best_offset, best)


@inner
def before_lines(lines, count, bound, body, sweep):
    """Whether a drifted action stays before all lines whose gap its ``bound`` (mm) could use up.

    No for a drift so far that walls without a line may be met.
    """
    if bound >= NEAR_MM:
        return False
    for k in range(count):
        if lines[k, 3] > bound:
            return True
        if not _reach(lines[k, 0], lines[k, 1], body, sweep) < lines[k, 2] - BEFORE_MM:
            return False
    return True
