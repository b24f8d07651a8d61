"""The search over a position graph, compiled: layered best-first over directed legs, each checked when first needed.

A state is a position with the heading at which a leg arrived there. Level by level (one leg more each), every position
keeps its few most promising states with different headings; a partial course is dropped when its cost plus the cost of
a single straight move to the end exceeds the best finished course by more than the slack.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner, inner_maker, kernel
from motion.ground.kernels import TWO_PI, leg_is_free, pose_free
from motion.search.kernels.arcs import arc_at, turn_on_arc, whole_circle
from motion.search.kernels.finish import (
    FINISH,
    GraphCourses,
    different_courses,
    finish_at_goal,
    finish_in_base,
    finish_straight_back,
)
from motion.search.kernels.moves import BUCKETS, list_moves, moves_of, passes, rest_bound
from motion.search.kernels.task import leg_cost, turn_cost, wrapped

POOL = 5
#: How many finished courses are kept before those that repeat another are left out.
FINISHED = 600


#: A state: its position, the state before (-1 at the start), and the leg that led here: +1 ahead or -1 back, heading at
#: which it arrived; cost so far, and cost with the bound of what is left.
STATE = np.dtype(
    [("node", np.int64), ("parent", np.int64)]
    + [(name, np.float64) for name in ("direction", "heading", "cost", "rank")]
)


class Pools(NamedTuple):
    """The most promising states of the next level at every position: ``size`` (N,) many, ``states`` (N, POOL) by rank.

    ``seen`` (N, BUCKETS): the least cost at which each heading was reached.
    """

    size: np.ndarray
    states: np.ndarray
    seen: np.ndarray


@inner_maker
def _empty_finishes(most):
    finishes = np.zeros(most, FINISH)
    for i in range(most):
        finishes[i].cost = math.inf
    return finishes


@inner_maker
def _empty_pools(n):
    seen = np.zeros((n, BUCKETS))
    for i in range(n):
        for j in range(BUCKETS):
            seen[i, j] = math.inf
    return Pools(np.zeros(n, np.int64), np.zeros((n, POOL), STATE), seen)


@inner
def _pool(pools, q, cost, rank, heading, direction, parent):
    """Put a state into the pool at q: it replaces one of nearly the same heading, else the least promising one."""
    states, size = pools.states, pools.size[q]
    for k in range(size):
        if abs(wrapped(states[q, k].heading - heading)) < TWO_PI / BUCKETS:
            for m in range(k, size - 1):
                states[q, m] = states[q, m + 1]
            size -= 1
            break
    k = size if size < POOL else POOL - 1
    while k > 0 and states[q, k - 1].rank > rank:
        states[q, k] = states[q, k - 1]
        k -= 1
    state = states[q, k]
    state.node, state.parent = q, parent
    state.direction, state.heading, state.cost, state.rank = direction, heading, cost, rank
    pools.size[q] = min(size + 1, POOL)


@inner
def _back_off(task, graph, pools):
    """The first legs of a trip that is backing: back along the start heading to the positions on that line."""
    x, y, heading = task.trip.start
    c, s = math.cos(heading), math.sin(heading)
    for q in graph.first:
        qx, qy = graph.nodes[q, 0], graph.nodes[q, 1]
        d = math.hypot(qx - x, qy - y)
        if (
            d >= task.trip.handling.least_back
            and leg_is_free(task.first_walls, task.first_body, x, y, c, s, -d)
            and pose_free(task.walls, task.first_body, qx, qy, heading)
            and pose_free(task.walls, task.body, qx, qy, heading)
        ):
            _pool(pools, q, leg_cost(task.trip.handling, d), 0.0, heading, -1.0, 0)


@inner
def _extend(task, graph, tested, moves, states, pools, st, limit):
    """One leg more from a state, to every position and both ways, where the cost may stay under a limit."""
    p, g, heading = states[st].node, states[st].cost, states[st].heading
    arc, off = arc_at(graph, p, heading)
    if arc < 0:
        return
    if moves.listed[p] < 0:
        list_moves(task.trip, graph, tested, moves, p, limit)
    whole = whole_circle(graph, p, arc)
    kept = 0
    for k in range(moves.listed[p]):
        move = moves.legs[p, kept]
        if kept < k:
            moves.legs[p, kept] = moves.legs[p, k]
        if moves.soonest[p] + move.least >= limit:
            continue
        kept += 1
        if move.arc != arc or g + move.least >= limit:
            continue
        q, bucket = move.to, move.bucket
        if g + move.seconds >= pools.seen[q, bucket]:
            continue
        by = turn_on_arc(whole, off, move.offset)
        if by == 0.0 and st > 0:
            continue  # going on in a straight line is one leg, not two
        cost = g + move.seconds + turn_cost(task.trip.handling, by)
        if cost >= pools.seen[q, bucket]:
            continue
        rank = cost + rest_bound(task.trip, moves, q, move.heading)
        if rank >= limit or (pools.size[q] == POOL and rank >= pools.states[q, POOL - 1].rank):
            continue
        if passes(task.walls, task.body, graph, tested, p if move.way == 0 else q, q if move.way == 0 else p):
            pools.seen[q, bucket] = cost
            _pool(pools, q, cost, rank, move.heading, 1.0 if move.way == 0 else -1.0, st)
        else:
            kept -= 1
    moves.listed[p] = kept


@inner
def _next_level(pools, states, total):
    """Empty the pools into the states; returns how many states there are then."""
    for q in range(pools.size.size):
        for k in range(pools.size[q]):
            states[total] = pools.states[q, k]
            total += 1
        pools.size[q] = 0
    return total


@kernel
def search(task, graph, tested, aims, levels, slack, most):
    """Search the graph.

    Parameters
    ----------
    task
        What to reach (a :class:`motion.search.kernels.task.Task`).
    graph
        Where from and through (a :class:`motion.search.kernels.arcs.Graph`).
    tested
        What earlier searches of this graph found out about its legs (a :class:`motion.search.kernels.moves.Tested`); filled.
    aims
        (B, 2) points in the base to head for, for a task into the base.
    levels
        Most legs in a course.
    slack
        How much dearer than the best a finished course may be, 1.15 for 15 %.
    most
        How many finished courses to return.

    Returns
    -------
    GraphCourses
        The cheapest courses that differ: by legs or directions, by points far apart, or by the last heading.
    """
    n = graph.nodes.shape[0]
    moves = moves_of(task.trip, task.homing, graph)
    finishes = _empty_finishes(FINISHED)
    states, pools = np.zeros(1 + levels * n * POOL, STATE), _empty_pools(n)
    states[0].parent, states[0].heading = -1, task.trip.start.h
    _search_levels(task, graph, tested, aims, moves, states, pools, finishes, levels, slack)
    legs, directions, headings = np.zeros(most, np.int64), np.zeros((most, levels)), np.zeros(most)
    courses = GraphCourses(0, legs, np.zeros((most, levels, 2)), directions, headings)
    count = different_courses(task.trip, graph.nodes, states, finishes, courses, slack)
    return GraphCourses(count, legs, courses.points, directions, headings)


@inner
def _search_levels(task, graph, tested, aims, moves, states, pools, finishes, levels, slack):
    """Go through the graph level by level, one leg more each, and note the courses that end."""
    first, total = 0, 1
    for level in range(levels):
        for st in range(first, total):
            if task.stop[0] != 0:
                break
            if not task.trip.into_base and task.trip.backing and st == 0:
                continue  # off the target first
            if not task.trip.into_base:
                finish_at_goal(task, graph, tested, states, finishes, st, slack)
            elif st > 0 or not task.trip.backing:
                finish_in_base(task, graph, aims, tested, states, finishes, st, slack)
            else:
                finish_straight_back(task, finishes)
        if level == levels - 1 or task.stop[0] != 0:
            break
        if level == 0 and task.trip.backing:
            _back_off(task, graph, pools)
        else:
            for st in range(first, total):
                if task.stop[0] != 0:
                    break
                _extend(task, graph, tested, moves, states, pools, st, finishes[0].cost * slack)
        first, total = total, _next_level(pools, states, total)
        if total == first:
            break
