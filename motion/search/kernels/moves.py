"""Legs between positions of the graph, and from them into the base: what each costs and whether it is free, compiled.

Whether a leg is free hangs on walls and body alone, so that is kept beside the positions for searches at other prices.
The rest is worked out when a search first leaves a position, and what turned out not to be free is taken off its list.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner, inner_maker
from motion.ground.kernels import TWO_PI, full_circle, leg_is_free
from motion.search.kernels.arcs import Graph, arc_at
from motion.search.kernels.task import leg_cost, turn_cost, wrapped

#: What rounding may take from a bound of seconds.
DUST_S = 1e-9
#: States of one position whose headings lie in the same part of a circle over this are rivals.
BUCKETS = 24
#: A leg to a position, way 0 ahead or 1 back: the free arc that its heading (rad) lies on and how far along that, the
#: bucket of that heading, its cost, and the bound of its cost and all that is left after it.
MOVE = np.dtype(
    [("to", np.int32), ("way", np.int8), ("arc", np.int8), ("bucket", np.int8)]
    + [(name, np.float64) for name in ("heading", "offset", "seconds", "least")],
    align=True,
)
#: A last leg into the base, +1 ahead or -1 back: its heading (rad), its distance (mm), 1 once it is known to be free.
LAST = np.dtype([("free", np.int64)] + [(name, np.float64) for name in ("direction", "heading", "distance")])


class Tested(NamedTuple):
    """What is known of a graph's legs, whatever a search pays for.

    ``passes`` (N, N): whether the body passes with the heading from p to q: 0 not yet looked at, 1 yes, 2 no. ``lasts``
    (N, 2 B) of :data:`LAST`: legs from p into the base, two for each of B aims; the first ``last_count`` (N,) hold, -1:
    not yet looked at.
    """

    passes: np.ndarray
    last_count: np.ndarray
    lasts: np.ndarray


class Moves(NamedTuple):
    """From every position the legs to others, the first ``listed`` (N,) in ``legs`` (N, 2 N) of :data:`MOVE`; -1: not listed yet.

    ``soonest`` (N,): the bound of the cost so far; ``straight`` (N,): that of the cost to the end; ``toward``, ``ahead``,
    ``back`` (N,): the heading to the goal, and the cost of the last turn after a leg that leads there ahead or back.
    """

    listed: np.ndarray
    legs: np.ndarray
    soonest: np.ndarray
    straight: np.ndarray
    toward: np.ndarray
    ahead: np.ndarray
    back: np.ndarray


def nothing_tested(graph: Graph, aims: int) -> Tested:
    """Nothing known of a graph's legs; so many points to head for in the base."""
    n = len(graph.nodes)
    return Tested(np.zeros((n, n), np.int8), np.full(n, -1), np.zeros((n, 2 * aims), LAST))


def take_known(tested: Tested, graph: Graph, other: Graph, known: Tested, *, same_aims: bool) -> None:
    """Pass on what is known of legs between positions that another graph among the same walls has too.

    Legs into the base only where both searches have the same aims there.
    """
    places = {place: index for index, place in enumerate(map(tuple, other.nodes.tolist()))}
    both = [(i, places[place]) for i, place in enumerate(map(tuple, graph.nodes.tolist())) if place in places]
    if not both:
        return
    here, there = np.array(both).T
    tested.passes[np.ix_(here, here)] = known.passes[np.ix_(there, there)]
    if same_aims:
        tested.last_count[here], tested.lasts[here] = known.last_count[there], known.lasts[there]


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
def rest_bound(trip, moves, q, heading):
    """Least cost from q, reached at a heading, to the end: one straight leg, and to a goal the turns about it."""
    if trip.into_base:
        return moves.straight[q]
    off_line = wrapped(moves.toward[q] - heading)
    other = off_line - math.pi if off_line > 0 else off_line + math.pi
    ahead = turn_cost(trip.handling, off_line) + moves.ahead[q]
    back = turn_cost(trip.handling, other) + moves.back[q]
    return moves.straight[q] + min(ahead, back)


@inner_maker
def moves_of(trip, homing, graph):
    """No moves listed yet, and the bounds of what is left from every position."""
    n = graph.nodes.shape[0]
    moves = Moves(
        np.zeros(n, np.int64), np.empty((n, 2 * n), MOVE), np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n),
        np.zeros(n),
    )  # fmt: skip
    for q in range(n):
        qx, qy = graph.nodes[q, 0], graph.nodes[q, 1]
        toward = math.atan2(trip.goal.y - qy, trip.goal.x - qx)
        moves.listed[q], moves.toward[q] = -1, toward
        if q > 0:
            moves.soonest[q] = leg_cost(trip.handling, math.hypot(qx - trip.start.x, qy - trip.start.y)) - DUST_S
        moves.straight[q] = _bound(trip, homing, qx, qy)
        moves.ahead[q] = turn_cost(trip.handling, wrapped(trip.goal.h - toward))
        moves.back[q] = turn_cost(trip.handling, wrapped(trip.goal.h - toward - math.pi))
    return moves


@inner
def list_moves(trip, graph, tested, moves, p, limit):
    """List the legs from p to other positions than the goal, long enough and not known to meet anything.

    Those over which no course costs less than ``limit`` are left out.
    """
    count, px, py = 0, graph.nodes[p, 0], graph.nodes[p, 1]
    for q in range(graph.nodes.shape[0]):
        dx, dy = graph.nodes[q, 0] - px, graph.nodes[q, 1] - py
        d = math.hypot(dx, dy)
        if d < trip.handling.least_leg or q == p or (q == 1 and not trip.into_base):
            continue
        seconds = leg_cost(trip.handling, d)
        least = seconds + moves.straight[q] - DUST_S
        if moves.soonest[p] + least >= limit:
            continue
        at = math.atan2(dy, dx)
        for way in range(2):
            heading = at + math.pi * way
            arc, offset = arc_at(graph, p, heading)
            if arc < 0 or (tested.passes[p, q] if way == 0 else tested.passes[q, p]) == 2:
                continue
            move = moves.legs[p, count]
            move.to, move.way, move.arc = q, way, arc
            move.bucket = int(full_circle(heading) / TWO_PI * BUCKETS) % BUCKETS
            move.heading, move.offset, move.seconds, move.least = heading, offset, seconds, least
            count += 1
    moves.listed[p] = count


@inner
def passes(walls, body, graph, tested, p, q):
    """Whether the body with the heading from p to q may pass between them (looked at once)."""
    known = tested.passes[p, q]
    if known == 0:
        dx, dy = graph.nodes[q, 0] - graph.nodes[p, 0], graph.nodes[q, 1] - graph.nodes[p, 1]
        d = math.hypot(dx, dy)
        free = leg_is_free(walls, body, graph.nodes[p, 0], graph.nodes[p, 1], dx / d, dy / d, d)
        known = 1 if free else 2
        tested.passes[p, q] = known
    return known == 1
