"""What each leg between two positions of the graph costs, whatever led up to it, compiled."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner
from motion.ground.kernels import leg_free
from motion.search.kernels.arcs import arc_at
from motion.search.kernels.task import leg_cost, turn_cost, wrapped


class Moves(NamedTuple):
    """For every ordered pair p, q and way (0 ahead, 1 back): what the inner loop needs and no state changes.

    ``bearing`` (N, N); ``travel`` (N, N) cost of the leg, inf when it is too short; ``arc`` (N, N, 2) at p that the
    leg's heading lies on (-1: none) and ``offset`` (N, N, 2) how far along it; ``rest`` (N, N, 2) the bound of the
    cost to the end after the leg; ``known`` (N, N) whether the body passes with the heading from p to q: 0 not yet
    looked at, 1 yes, 2 no.
    """

    bearing: np.ndarray
    travel: np.ndarray
    arc: np.ndarray
    offset: np.ndarray
    rest: np.ndarray
    known: np.ndarray


@inner
def _distance_to_base(homing, x, y):
    best = math.inf
    inside = True
    for side in homing.base:
        dx, dy = side.bx - side.ax, side.by - side.ay
        t = min(1.0, max(0.0, ((x - side.ax) * dx + (y - side.ay) * dy) / (dx * dx + dy * dy)))
        best = min(best, math.hypot(x - side.ax - t * dx, y - side.ay - t * dy))
        if side.nx * x + side.ny * y > side.support:
            inside = False
    return 0.0 if inside and homing.convex else best


@inner
def _bound(trip, homing, x, y):
    """Cost of one straight leg from (x, y) to the end, nothing in the way."""
    if trip.into_base:
        return leg_cost(trip.handling, max(_distance_to_base(homing, x, y), trip.handling.least_leg))
    d = math.hypot(trip.goal.x - x, trip.goal.y - y)
    return leg_cost(trip.handling, d) if d > 1e-9 else 0.0


@inner
def _turns_left(handling, off_line, ahead, back):
    """Cost of the turns about a straight leg to the goal: ``off_line`` or its opposite before it, and those after it."""
    other = off_line - math.pi if off_line > 0 else off_line + math.pi
    return min(turn_cost(handling, off_line) + ahead, turn_cost(handling, other) + back)


@inner
def moves_of(trip, homing, graph):
    """The table of moves between the positions."""
    n = graph.nodes.shape[0]
    moves = Moves(
        np.zeros((n, n)), np.zeros((n, n)), np.zeros((n, n, 2), np.int8), np.zeros((n, n, 2)), np.zeros((n, n, 2)),
        np.zeros((n, n), np.int8),
    )  # fmt: skip
    for q in range(n):
        qx, qy = graph.nodes[q, 0], graph.nodes[q, 1]
        straight = _bound(trip, homing, qx, qy)
        toward = math.atan2(trip.goal.y - qy, trip.goal.x - qx)
        ahead = turn_cost(trip.handling, wrapped(trip.goal.h - toward))
        back = turn_cost(trip.handling, wrapped(trip.goal.h - toward - math.pi))
        for p in range(n):
            dx, dy = qx - graph.nodes[p, 0], qy - graph.nodes[p, 1]
            d = math.hypot(dx, dy)
            moves.travel[p, q] = leg_cost(trip.handling, d) if d >= trip.handling.least_leg else math.inf
            if moves.travel[p, q] == math.inf:
                continue
            at = math.atan2(dy, dx)
            moves.bearing[p, q] = at
            for way in range(2):
                heading = at + math.pi * way
                k, off = arc_at(graph, p, heading)
                moves.arc[p, q, way], moves.offset[p, q, way] = k, off
                if k >= 0:
                    moves.rest[p, q, way] = straight
                    if not trip.into_base:
                        moves.rest[p, q, way] += _turns_left(trip.handling, wrapped(toward - heading), ahead, back)
    return moves


@inner
def passes(walls, body, graph, moves, p, q):
    """Whether the body with the heading from p to q may pass between them (looked at once)."""
    known = moves.known[p, q]
    if known == 0:
        dx, dy = graph.nodes[q, 0] - graph.nodes[p, 0], graph.nodes[q, 1] - graph.nodes[p, 1]
        d = math.hypot(dx, dy)
        free = leg_free(walls, body, graph.nodes[p, 0], graph.nodes[p, 1], dx / d, dy / d, d)
        known = 1 if free else 2
        moves.known[p, q] = known
    return known == 1
