"""A plain hybrid lattice to compare the search with: best-first over cells and headings, compiled, same clearance tests.

From a pose it turns to one of the lattice's headings and drives one of a few lengths, ahead or back; at every
expansion it also tries the straight move to the goal. One pose is kept per cell and heading. Costs are those of the
search (trapezoid and settle), and so is the bound of a single straight move.
"""

from __future__ import annotations

import heapq
import math

import numpy as np
from numba import njit

from motion.ground.kernels import leg_free
from motion.search.kernels.task import free_turn, leg_cost, turn_cost, wrapped

LENGTHS = np.array([60.0, 120.0, 240.0, 480.0, 960.0])


@njit(cache=True)
def lattice_cost(task, lengths, headings, cell, most):
    """Cost of the cheapest lattice course to the goal pose, inf when ``most`` expansions found none."""
    x0, y0, x1, y1 = task.walls.edges
    walls, body, handling, goal = task.walls, task.body, task.trip.handling, task.trip.goal
    columns, rows = int((x1 - x0) / cell) + 1, int((y1 - y0) / cell) + 1
    best_at = np.full((columns, rows, headings + 1), math.inf)
    pose = np.zeros((most * 60, 4))
    pose[0, 0], pose[0, 1], pose[0, 2], pose[0, 3] = task.trip.start.x, task.trip.start.y, task.trip.start.h, 0.0
    used = 1
    heap = [(0.0, 0)]
    best = math.inf
    expanded = 0
    while len(heap) > 0 and expanded < most:
        bound, at = heapq.heappop(heap)
        if bound >= best:
            break
        expanded += 1
        x, y, h, g = pose[at, 0], pose[at, 1], pose[at, 2], pose[at, 3]
        dx, dy = goal.x - x, goal.y - y
        d = math.hypot(dx, dy)
        if d >= handling.least_leg:
            for way in range(2):
                toward = math.atan2(dy, dx) + math.pi * way
                by = free_turn(walls, body, x, y, h, wrapped(toward - h))
                if math.isnan(by):
                    continue
                c, s = math.cos(toward), math.sin(toward)
                if not leg_free(walls, body, x, y, c, s, d if way == 0 else -d):
                    continue
                last = free_turn(walls, body, goal.x, goal.y, toward, wrapped(goal.h - toward))
                if not math.isnan(last):
                    best = min(best, g + turn_cost(handling, by) + leg_cost(handling, d) + turn_cost(handling, last))
        for k in range(headings):
            to = 2 * math.pi * k / headings
            by = free_turn(walls, body, x, y, h, wrapped(to - h))
            if math.isnan(by):
                continue
            c, s = math.cos(to), math.sin(to)
            for way in range(2):
                for length in lengths:
                    signed = length if way == 0 else -length
                    px, py = x + signed * c, y + signed * s
                    if px < x0 or py < y0 or px > x1 or py > y1:
                        break
                    cost = g + turn_cost(handling, by) + leg_cost(handling, length)
                    i, j = int((px - x0) / cell), int((py - y0) / cell)
                    if cost >= best_at[i, j, k]:
                        continue
                    if not leg_free(walls, body, x, y, c, s, signed):
                        break
                    far = math.hypot(goal.x - px, goal.y - py)
                    bound = cost + (leg_cost(handling, far) if far > 1.0 else 0.0)
                    if bound >= best or used == pose.shape[0]:
                        continue
                    best_at[i, j, k] = cost
                    pose[used, 0], pose[used, 1], pose[used, 2], pose[used, 3] = px, py, to, cost
                    heapq.heappush(heap, (bound, used))
                    used += 1
    return best
