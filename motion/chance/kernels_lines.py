"""Lines that keep a moving body and a wall apart, compiled: a cheap proof that a drifted run still touches nothing.

For each wall near an exact action one line is chosen, with the wall wholly beyond it and the swept body before it by the
widest gap. A drifted run whose body stays before all of these lines is free; only the others need the exact test.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

#: A body must stay this far (mm) before a line, since departures are float32.
BEFORE_MM = 2e-3


@njit(cache=True)
def leg_reach(nx, ny, body, x, y, c, s, distance):
    """How far along the unit vector n a body gets that drives ``distance`` from (x, y) on the heading (c, s)."""
    a, b = nx * c + ny * s, ny * c - nx * s
    most = -math.inf
    for i in range(body.xy.shape[0]):
        most = max(most, a * body.xy[i, 0] + b * body.xy[i, 1])
    return nx * x + ny * y + most + max(0.0, a * distance)


@njit(cache=True)
def turn_reach(nx, ny, body, x, y, c0, s0, c1, s1, by):
    """How far along n a body gets that turns ``by`` about (x, y) from heading (c0, s0) to (c1, s1)."""
    a0, b0 = nx * c0 + ny * s0, ny * c0 - nx * s0
    a1, b1 = nx * c1 + ny * s1, ny * c1 - nx * s1
    most = -math.inf
    for i in range(body.xy.shape[0]):
        u, v = body.xy[i, 0], body.xy[i, 1]
        rising, still = b0 * u - a0 * v, b1 * u - a1 * v
        if by < 0:
            rising, still = -rising, -still
        if abs(by) >= math.pi or (rising > 0.0 and still < 0.0):
            most = max(most, math.hypot(u, v))
        else:
            most = max(most, max(a0 * u + b0 * v, a1 * u + b1 * v))
    return nx * x + ny * y + most


@njit(cache=True)
def _swept_reach(turning, nx, ny, body, x, y, c0, s0, c1, s1, value):
    if turning:
        return turn_reach(nx, ny, body, x, y, c0, s0, c1, s1, value)
    return leg_reach(nx, ny, body, x, y, c0, s0, value)


@njit(cache=True)
def lines_of(turning, walls, body, x, y, heading, value, lines):
    """Fill ``lines`` (pieces + 4, 4) with nx, ny, offset and gap of one line a wall, nearest first.

    A wall lies where n . q >= offset; a gap of zero or less says that no line was found.
    """
    c0, s0 = math.cos(heading), math.sin(heading)
    c1, s1 = (math.cos(heading + value), math.sin(heading + value)) if turning else (c0, s0)
    pieces = walls.start.size - 1
    for w in range(pieces):
        first, last = walls.start[w], walls.start[w + 1]
        best = -math.inf
        corners = last - first
        for j in range(2 * corners + (0 if turning else body.normal.shape[0] + 2)):
            if j < corners:  # the wall's own edges
                nx, ny = -walls.normal[first + j, 0], -walls.normal[first + j, 1]
            elif j < 2 * corners:  # from the robot to the wall's corners
                nx, ny = walls.xy[first + j - corners, 0] - x, walls.xy[first + j - corners, 1] - y
                size = math.hypot(nx, ny)
                if size < 1e-9:
                    continue
                nx, ny = nx / size, ny / size
            elif j < 2 * corners + body.normal.shape[0]:  # the body's edges
                u, v = body.normal[j - 2 * corners, 0], body.normal[j - 2 * corners, 1]
                nx, ny = u * c0 - v * s0, u * s0 + v * c0
            else:  # the sides of the way
                side = 1.0 if j == 2 * corners + body.normal.shape[0] else -1.0
                nx, ny = -s0 * side, c0 * side
            offset = math.inf
            for q in range(first, last):
                offset = min(offset, nx * walls.xy[q, 0] + ny * walls.xy[q, 1])
            gap = offset - _swept_reach(turning, nx, ny, body, x, y, c0, s0, c1, s1, value)
            if gap > best:
                best = gap
                lines[w, 0], lines[w, 1], lines[w, 2], lines[w, 3] = nx, ny, offset, gap
    for edge in range(4):
        nx, ny = (-1.0, 0.0) if edge == 0 else ((0.0, -1.0) if edge == 1 else ((1.0, 0.0) if edge == 2 else (0.0, 1.0)))
        offset = -walls.edges[edge] if edge < 2 else walls.edges[edge]
        gap = offset - _swept_reach(turning, nx, ny, body, x, y, c0, s0, c1, s1, value)
        row = pieces + edge
        lines[row, 0], lines[row, 1], lines[row, 2], lines[row, 3] = nx, ny, offset, gap
    ordered = lines[np.argsort(lines[: pieces + 4, 3])].copy()
    lines[: pieces + 4] = ordered


@njit(cache=True)
def before_lines(turning, lines, count, bound, body, x, y, heading, value):
    """Whether a drifted action stays before all lines whose gap its ``bound`` (mm) could use up."""
    c0, s0 = math.cos(heading), math.sin(heading)
    c1, s1 = (math.cos(heading + value), math.sin(heading + value)) if turning else (c0, s0)
    for k in range(count):
        if lines[k, 3] > bound:
            return True
        reach = _swept_reach(turning, lines[k, 0], lines[k, 1], body, x, y, c0, s0, c1, s1, value)
        if not reach < lines[k, 2] - BEFORE_MM:
            return False
    return True
