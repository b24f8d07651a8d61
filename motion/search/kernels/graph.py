"""The search over a position graph, compiled: layered best-first over directed legs, each checked when first needed.

A state is a position with the heading at which a leg arrived there. Level by level (one leg more each), every position
keeps its few most promising states with different headings; a partial course is dropped when its cost plus the cost of
a single straight move to the end exceeds the best finished course by more than the slack.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from motion.ground.kernels import TWO_PI, free_arcs, full_circle, leg_free, pose_free
from motion.ground.kernels_base import base_entry, inside_base
from motion.search.kernels.task import SAME_HEADING, leg_cost, turn_cost, wrapped

MAX_ARCS = 48
POOL = 5


@njit(cache=True, nogil=True)
def node_arcs(task, nodes):
    """Free heading arcs of every position: counts (N,), lo and hi (N, MAX_ARCS). A count of -1 is an overflow."""
    n = nodes.shape[0]
    count = np.zeros(n, dtype=np.int64)
    lo = np.zeros((n, MAX_ARCS))
    hi = np.zeros((n, MAX_ARCS))
    work = np.zeros(16384)
    for i in range(n):
        count[i] = free_arcs(task.walls, task.body, nodes[i, 0], nodes[i, 1], work, lo[i], hi[i])
    return count, lo, hi


@njit(cache=True)
def arc_turn(count, lo, hi, start, end):
    """The turn from one heading to another that stays on one free arc; nan when there is none."""
    if abs(wrapped(end - start)) < SAME_HEADING:
        return 0.0
    for k in range(count):
        width = hi[k] - lo[k]
        if count == 1 and lo[k] == 0.0 and width >= TWO_PI:
            return wrapped(end - start)
        a = full_circle(start - lo[k])
        if a > width:
            continue
        b = full_circle(end - lo[k])
        if b <= width:
            return b - a
        return math.nan
    return math.nan


@njit(cache=True)
def graph_leg_free(task, nodes, table, p, q):
    """Whether the body with the heading from p to q may pass between them (remembered in ``table``)."""
    known = table[p, q]
    if known == 0:
        dx, dy = nodes[q, 0] - nodes[p, 0], nodes[q, 1] - nodes[p, 1]
        d = math.hypot(dx, dy)
        free = leg_free(task.walls, task.body, nodes[p, 0], nodes[p, 1], dx / d, dy / d, d)
        known = 1 if free else 2
        table[p, q] = known
    return known == 1


@njit(cache=True)
def _distance_to_base(task, x, y):
    best = math.inf
    n = task.base.xy.shape[0]
    inside = True
    for j in range(n):
        f = j + 1 if j + 1 < n else 0
        ax, ay = task.base.xy[j, 0], task.base.xy[j, 1]
        dx, dy = task.base.xy[f, 0] - ax, task.base.xy[f, 1] - ay
        t = min(1.0, max(0.0, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)))
        best = min(best, math.hypot(x - ax - t * dx, y - ay - t * dy))
        if task.base.normal[j, 0] * x + task.base.normal[j, 1] * y > task.base.support[j]:
            inside = False
    return 0.0 if inside and task.base_convex else best


@njit(cache=True)
def last_leg(task, x, y, heading, direction):
    """Distance of the last leg into the base along a heading, when it is free and long enough; inf otherwise."""
    c, s = math.cos(heading), math.sin(heading)
    d = base_entry(task.base, task.base_convex, task.base_body, x, y, c, s, direction)
    if d == math.inf:
        return d
    if d < task.least_leg:
        d = task.least_leg
        if not inside_base(
            task.base, task.base_convex, task.base_body, x + direction * d * c, y + direction * d * s, heading
        ):
            return math.inf
    return d if leg_free(task.walls, task.body, x, y, c, s, direction * d) else math.inf


@njit(cache=True)
def _arc_at(count, lo, hi, heading):
    """Index of the free arc that holds a heading and how far along it the heading lies; (-1, 0) when none does."""
    for k in range(count):
        off = full_circle(heading - lo[k])
        if off <= hi[k] - lo[k]:
            return k, off
    return -1, 0.0


@njit(cache=True)
def _turn_on_arc(whole, off, to):
    """The turn between two places on one arc; the short way when the arc is the whole circle."""
    by = to - off
    if abs(by) < SAME_HEADING or abs(abs(by) - TWO_PI) < SAME_HEADING:
        return 0.0
    return wrapped(by) if whole else by


@njit(cache=True)
def _moves(task, nodes, arcs, lo, hi):
    """For every ordered pair p, q and way (0 ahead, 1 back): what the inner loop needs and no state changes.

    Bearing (N, N), cost of the leg (N, N), arc at p that the leg's heading lies on (-1: none) and how far along it
    (N, N, 2), and the bound of the cost to the end after the leg (N, N, 2).
    """
    n = nodes.shape[0]
    bearing = np.zeros((n, n))
    travel = np.zeros((n, n))
    arc_of = np.zeros((n, n, 2), dtype=np.int8)
    offset = np.zeros((n, n, 2))
    rest = np.zeros((n, n, 2))
    for q in range(n):
        qx, qy = nodes[q, 0], nodes[q, 1]
        if task.into_base:
            straight = leg_cost(task, max(_distance_to_base(task, qx, qy), task.least_leg))
            toward = ahead = back = 0.0
        else:
            d = math.hypot(task.gx - qx, task.gy - qy)
            straight = leg_cost(task, d) if d > 1e-9 else 0.0
            toward = math.atan2(task.gy - qy, task.gx - qx)
            ahead = turn_cost(task, wrapped(task.gh - toward))
            back = turn_cost(task, wrapped(task.gh - toward - math.pi))
        for p in range(n):
            dx, dy = qx - nodes[p, 0], qy - nodes[p, 1]
            d = math.hypot(dx, dy)
            travel[p, q] = leg_cost(task, d) if d >= task.least_leg else math.inf
            if travel[p, q] == math.inf:
                continue
            at = math.atan2(dy, dx)
            bearing[p, q] = at
            for way in range(2):
                heading = at + math.pi * way
                k, off = _arc_at(arcs[p], lo[p], hi[p], heading)
                arc_of[p, q, way], offset[p, q, way] = k, off
                if k < 0:
                    continue
                turning = 0.0
                if not task.into_base:  # one straight move from q to the end, nothing in the way
                    off_line = wrapped(toward - heading)
                    other = off_line - math.pi if off_line > 0 else off_line + math.pi
                    turning = min(turn_cost(task, off_line) + ahead, turn_cost(task, other) + back)
                rest[p, q, way] = straight + turning
    return bearing, travel, arc_of, offset, rest


@njit(cache=True, nogil=True)
def search(task, nodes, arcs, lo, hi, first_nodes, aims, levels, slack, most):
    """Search the graph.

    Parameters
    ----------
    task
        What to reach.
    nodes
        (N, 2) positions; node 0 is the start; node 1 is the goal when the task ends at a pose.
    arcs, lo, hi
        Free heading arcs of every position, as :func:`node_arcs` gives them.
    first_nodes
        Indices of nodes on the line back off the target, for a task that is backing.
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
    count, costs, legs, points, directions, last_heading
        Finished courses in order of cost: number of legs (C,), positions after each leg (C, levels, 2), directions
        (C, levels) of +1 ahead and -1 back, heading of the last leg (C,).
    """
    n = nodes.shape[0]
    costs = np.full(most, math.inf)
    end_state = np.zeros(most, dtype=np.int64)
    end_direction = np.zeros(most)
    end_heading = np.zeros(most)
    end_distance = np.zeros(most)
    legs = np.zeros(most, dtype=np.int64)
    points = np.zeros((most, levels, 2))
    directions = np.zeros((most, levels))
    table = np.zeros((n, n), dtype=np.int8)
    bearing, travel, arc_of, offset, rest = _moves(task, nodes, arcs, lo, hi)
    options = 2 * aims.shape[0]
    last_known = np.zeros(n, dtype=np.int8)
    last_to = np.zeros((n, options))
    last_heading = np.zeros((n, options))
    # all states of all levels, in rows: node, parent, direction of the leg that led here, heading, cost
    room = 1 + levels * n * POOL
    s_node = np.zeros(room, dtype=np.int64)
    s_parent = np.full(room, -1, dtype=np.int64)
    s_direction = np.zeros(room)
    s_heading = np.zeros(room)
    s_cost = np.zeros(room)
    s_heading[0] = task.h
    total = 1
    level_first = 0
    best = math.inf
    buckets = 24
    seen = np.full((n, buckets), math.inf)
    pool_cost = np.zeros((n, POOL))
    pool_rank = np.zeros((n, POOL))
    pool_heading = np.zeros((n, POOL))
    pool_direction = np.zeros((n, POOL))
    pool_parent = np.zeros((n, POOL), dtype=np.int64)
    pool_size = np.zeros(n, dtype=np.int64)
    for level in range(levels):
        level_last = total
        # finish from every state of this level
        for st in range(level_first, level_last):
            p, g, heading = s_node[st], s_cost[st], s_heading[st]
            if task.into_base:
                if level == 0 and task.backing:
                    d = last_leg(task, task.x, task.y, task.h, -1.0)  # straight back into the base
                    if d < math.inf and d >= task.least_back:
                        best = _keep(costs, end_state, end_direction, end_heading, end_distance, best,
                                     g + leg_cost(task, d), st, -1.0, heading, d)  # fmt: skip
                    continue
                if last_known[p] == 0:
                    last_known[p] = 1
                    for b in range(aims.shape[0]):
                        toward = math.atan2(aims[b, 1] - nodes[p, 1], aims[b, 0] - nodes[p, 0])
                        for way in range(2):
                            at = toward if way == 0 else toward + math.pi
                            last_heading[p, 2 * b + way] = at
                            last_to[p, 2 * b + way] = last_leg(
                                task, nodes[p, 0], nodes[p, 1], at, 1.0 if way == 0 else -1.0
                            )
                for o in range(options):
                    d = last_to[p, o]
                    if d == math.inf:
                        continue
                    by = arc_turn(arcs[p], lo[p], hi[p], heading, last_heading[p, o])
                    if math.isnan(by):
                        continue
                    cost = g + turn_cost(task, by) + leg_cost(task, d)
                    if cost < best * slack:
                        best = _keep(costs, end_state, end_direction, end_heading, end_distance, best, cost, st,
                                     1.0 if o % 2 == 0 else -1.0, last_heading[p, o], d)  # fmt: skip
            else:
                for way in range(2):
                    at = bearing[p, 1] + (math.pi if way == 1 else 0.0)
                    by = arc_turn(arcs[p], lo[p], hi[p], heading, at)
                    if math.isnan(by):
                        continue
                    cost = g + turn_cost(task, by) + travel[p, 1]
                    if cost >= best * slack:
                        continue
                    final = arc_turn(arcs[1], lo[1], hi[1], at, task.gh)
                    if math.isnan(final):
                        continue
                    cost += turn_cost(task, final)
                    if cost >= best * slack:
                        continue
                    if graph_leg_free(task, nodes, table, p if way == 0 else 1, 1 if way == 0 else p):
                        best = _keep(costs, end_state, end_direction, end_heading, end_distance, best, cost, st,
                                     1.0 if way == 0 else -1.0, at, travel[p, 1])  # fmt: skip
        if level == levels - 1:
            break
        # one leg more
        pool_size[:] = 0
        for st in range(level_first, level_last):
            p, g, heading = s_node[st], s_cost[st], s_heading[st]
            if level == 0 and task.backing:
                for index in range(first_nodes.size):
                    q = first_nodes[index]
                    d = math.hypot(nodes[q, 0] - task.x, nodes[q, 1] - task.y)
                    c, s = math.cos(task.h), math.sin(task.h)
                    if (
                        d >= task.least_back
                        and leg_free(task.first_walls, task.first_body, task.x, task.y, c, s, -d)
                        and pose_free(task.walls, task.first_body, nodes[q, 0], nodes[q, 1], task.h)
                        and pose_free(task.walls, task.body, nodes[q, 0], nodes[q, 1], task.h)
                    ):
                        pool_size[q] = 1
                        pool_cost[q, 0] = leg_cost(task, d)
                        pool_heading[q, 0], pool_direction[q, 0], pool_parent[q, 0] = task.h, -1.0, st
                continue
            arc, off = _arc_at(arcs[p], lo[p], hi[p], heading)
            if arc < 0:
                continue
            whole = hi[p, arc] - lo[p, arc] >= TWO_PI and arcs[p] == 1 and lo[p, arc] == 0.0
            for q in range(n):
                base_cost = g + travel[p, q]
                if q == p or base_cost >= best * slack or (q == 1 and not task.into_base):
                    continue
                for way in range(2):
                    if arc_of[p, q, way] != arc:
                        continue
                    by = _turn_on_arc(whole, off, offset[p, q, way])
                    if by == 0.0 and level > 0:
                        continue  # going on in a straight line is one leg, not two
                    cost = base_cost + turn_cost(task, by)
                    rank = cost + rest[p, q, way]
                    if rank >= best * slack:
                        continue
                    at = bearing[p, q] + math.pi * way
                    bucket = int(full_circle(at) / TWO_PI * buckets) % buckets
                    if cost >= seen[q, bucket]:
                        continue
                    size = pool_size[q]
                    if size == POOL and rank >= pool_rank[q, POOL - 1]:
                        continue
                    if not graph_leg_free(task, nodes, table, p if way == 0 else q, q if way == 0 else p):
                        continue
                    seen[q, bucket] = cost
                    # drop a state of nearly the same heading, then insert by rank
                    for k in range(size):
                        if abs(wrapped(pool_heading[q, k] - at)) < TWO_PI / buckets:
                            for m in range(k, size - 1):
                                _copy(pool_cost, pool_rank, pool_heading, pool_direction, pool_parent, q, m + 1, m)
                            size -= 1
                            break
                    k = size if size < POOL else POOL - 1
                    while k > 0 and pool_rank[q, k - 1] > rank:
                        _copy(pool_cost, pool_rank, pool_heading, pool_direction, pool_parent, q, k - 1, k)
                        k -= 1
                    pool_cost[q, k], pool_rank[q, k], pool_heading[q, k] = cost, rank, at
                    pool_direction[q, k], pool_parent[q, k] = 1.0 if way == 0 else -1.0, st
                    pool_size[q] = min(size + 1, POOL)
        level_first = total
        for q in range(n):
            for k in range(pool_size[q]):
                s_node[total], s_parent[total] = q, pool_parent[q, k]
                s_direction[total], s_heading[total] = pool_direction[q, k], pool_heading[q, k]
                s_cost[total] = pool_cost[q, k]
                total += 1
        if total == level_first:
            break
    count = 0
    while count < most and costs[count] < best * slack:
        st = end_state[count]
        depth = 0
        back = st
        while s_parent[back] >= 0:
            depth += 1
            back = s_parent[back]
        legs[count] = depth + 1
        p = s_node[st]
        d, way, at = end_distance[count], end_direction[count], end_heading[count]
        if task.into_base:
            points[count, depth, 0] = nodes[p, 0] + way * d * math.cos(at)
            points[count, depth, 1] = nodes[p, 1] + way * d * math.sin(at)
        else:
            points[count, depth, 0], points[count, depth, 1] = task.gx, task.gy
        directions[count, depth] = way
        back = st
        for i in range(depth - 1, -1, -1):
            points[count, i, 0], points[count, i, 1] = nodes[s_node[back], 0], nodes[s_node[back], 1]
            directions[count, i] = s_direction[back]
            back = s_parent[back]
        count += 1
    return count, costs, legs, points, directions, end_heading


@njit(cache=True)
def _copy(cost, rank, heading, direction, parent, q, source, to):
    cost[q, to], rank[q, to], heading[q, to] = cost[q, source], rank[q, source], heading[q, source]
    direction[q, to], parent[q, to] = direction[q, source], parent[q, source]


@njit(cache=True)
def _keep(costs, states, directions, headings, distances, best, cost, state, direction, heading, distance):
    """Insert a finished course in order of cost; the new best cost is returned."""
    k = costs.size - 1
    if cost >= costs[k]:
        return best
    while k > 0 and costs[k - 1] > cost:
        costs[k], states[k], directions[k] = costs[k - 1], states[k - 1], directions[k - 1]
        headings[k], distances[k] = headings[k - 1], distances[k - 1]
        k -= 1
    costs[k], states[k], directions[k], headings[k], distances[k] = cost, state, direction, heading, distance
    return min(best, cost)
