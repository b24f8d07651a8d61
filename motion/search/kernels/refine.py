"""Local search on the positions of a course's turning points, compiled.

A course of K legs has K - 1 turning points (and, into the base, the heading of the last leg). A point may be held on
the line of the start heading (no first turn) or on the line of the goal heading (no last turn): then one number moves
it. Random steps of falling size; a step is first priced (cheap) and only a cheaper one is tested for clearance.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from motion.ground.kernels import leg_free, pose_free
from motion.ground.kernels_base import base_entry, inside_base
from motion.search.kernels.task import free_turn, leg_cost, next_random, side_spread, turn_cost, wrapped


@njit(cache=True)
def price(task, legs, points, directions, last_heading, headings, distances):
    """Cost with every turn the short way, clearance not looked at; inf when a leg is too short or never ends.

    Fills headings (legs,) and signed distances (legs,), and the last point of a course into the base.
    """
    x, y, heading = task.x, task.y, task.h
    cost = 0.0
    for i in range(legs):
        way = directions[i]
        if i == legs - 1 and task.into_base:
            at = last_heading
            c, s = math.cos(at), math.sin(at)
            d = base_entry(task.base, task.base_convex, task.base_body, x, y, c, s, way)
            if d == math.inf:
                return d
            if d < task.least_leg:
                d = task.least_leg
                if not inside_base(task.base, task.base_convex, task.base_body, x + way * d * c, y + way * d * s, at):
                    return math.inf
            points[i, 0], points[i, 1] = x + way * d * c, y + way * d * s
        else:
            dx, dy = points[i, 0] - x, points[i, 1] - y
            d = math.hypot(dx, dy)
            if d < task.least_leg:
                return math.inf
            at = math.atan2(dy, dx) if way > 0 else math.atan2(-dy, -dx)
        if i == 0 and task.backing and d < task.least_back:
            return math.inf
        by = wrapped(at - heading)
        cost += leg_cost(task, d) + turn_cost(task, by)
        headings[i], distances[i] = at, way * d
        x, y, heading = points[i, 0], points[i, 1], at
    if not task.into_base:
        cost += turn_cost(task, wrapped(task.gh - heading))
        if task.spread_price > 0.0:
            cost += task.spread_price * side_spread(task, legs, points, headings, distances)
    return cost


@njit(cache=True)
def clear_cost(task, legs, points, headings, distances, cost, limit, turns, final_heading):
    """Cost with every turn the way that is free, inf when something is met or the cost reaches ``limit``.

    ``headings`` and ``distances`` as filled by :func:`price`; ``turns`` (legs + 1,) is filled with the signed turns, the last of
    them to ``final_heading`` (rad).
    """
    x, y, heading = task.x, task.y, task.h
    for i in range(legs):  # legs first: they fail more often and are cheaper to test
        c, s = math.cos(headings[i]), math.sin(headings[i])
        if i == 0 and task.backing:
            if not leg_free(task.first_walls, task.first_body, x, y, c, s, distances[i]):
                return math.inf
            if not pose_free(task.walls, task.first_body, points[i, 0], points[i, 1], headings[i]):
                return math.inf
            if not pose_free(task.walls, task.body, points[i, 0], points[i, 1], headings[i]):
                return math.inf
        elif not leg_free(task.walls, task.body, x, y, c, s, distances[i]):
            return math.inf
        x, y = points[i, 0], points[i, 1]
    x, y = task.x, task.y
    for i in range(legs + 1):
        if i == legs and task.into_base:
            turns[i] = 0.0
            break
        at = headings[i] if i < legs else final_heading
        short = wrapped(at - heading)
        by = free_turn(task, x, y, heading, short)
        if math.isnan(by) or (i == 0 and task.backing and by != 0.0):
            return math.inf
        cost += turn_cost(task, by) - turn_cost(task, short)
        if cost >= limit:
            return math.inf
        turns[i] = by
        heading = at
        if i < legs:
            x, y = points[i, 0], points[i, 1]
    return cost


@njit(cache=True)
def _shift(task, legs, points, directions, first_held, last_held, i, dx, dy, slide):
    """Move point i; held points move along their line; ``slide`` moves it along its leg in (1) or its leg out (2)."""
    if i == 0 and first_held:
        ux, uy = math.cos(task.h), math.sin(task.h)
    elif i == legs - 2 and last_held:
        ux, uy = math.cos(task.gh), math.sin(task.gh)
    elif slide == 1:
        px = task.x if i == 0 else points[i - 1, 0]
        py = task.y if i == 0 else points[i - 1, 1]
        ux, uy = points[i, 0] - px, points[i, 1] - py
    elif slide == 2:
        ux, uy = points[i + 1, 0] - points[i, 0], points[i + 1, 1] - points[i, 1]
    else:
        points[i, 0] += dx
        points[i, 1] += dy
        return
    size = math.hypot(ux, uy)
    if size > 1e-9:
        points[i, 0] += dx * ux / size
        points[i, 1] += dx * uy / size


@njit(cache=True)
def _jump(task, legs, points, directions, first_held, last_held, i, state):
    """Put point i anywhere on the table, or anywhere on the line that holds it."""
    x0, y0, x1, y1 = task.walls.edges
    if i == 0 and first_held:
        t = (x1 - x0) * next_random(state) ** 2
        if task.backing:  # most courses back off as little as they can
            t = task.least_back * (1.0 + 1e-12)
            if next_random(state) < 0.6:
                t += 0.5 * (x1 - x0) * next_random(state) ** 3
        way = -1.0 if task.backing else (1.0 if next_random(state) < 0.5 else -1.0)
        directions[0] = way
        points[0, 0], points[0, 1] = task.x + way * t * math.cos(task.h), task.y + way * t * math.sin(task.h)
    elif i == legs - 2 and last_held:
        t = (x1 - x0) * next_random(state) ** 2
        points[i, 0], points[i, 1] = task.gx - t * math.cos(task.gh), task.gy - t * math.sin(task.gh)
        directions[i + 1] = 1.0
    else:
        points[i, 0] = x0 + (x1 - x0) * next_random(state)
        points[i, 1] = y0 + (y1 - y0) * next_random(state)


@njit(cache=True, nogil=True)
def refine(
    task, legs, points, directions, last_heading, aims, limit, first_held, last_held, repairs, jumps, steps,
    first_step, last_step, seed,
):  # fmt: skip
    """Improve a course in place, or find one.

    Parameters
    ----------
    points, directions
        (legs, 2) ends of the legs, (legs,) +1 ahead or -1 back; both are changed.
    last_heading
        Heading of the last leg, for a task into the base.
    aims
        (B, 2) points in the base that a last leg may head for.
    limit
        Only courses cheaper than this are of interest; the given course may be anything when this is finite.
    first_held, last_held
        Whether the first point stays on the start line, the last turning point on the goal's line.
    repairs
        How many trials near the given course are made to find a clear one when it is not clear itself.
    jumps
        How many trials follow that put one point anywhere.
    steps, first_step, last_step
        How many random steps follow, and their size (mm) at the beginning and at the end.
    seed
        Positive integer.

    Returns
    -------
    cost, last_heading, turns
        Cost (inf when no clear course under the limit was found), heading of the last leg, signed turns (legs + 1,).
    """
    state = np.empty(1, dtype=np.uint64)
    state[0] = np.uint64(88172645463325252) ^ (np.uint64(seed) * np.uint64(2654435761))
    headings, distances = np.zeros(legs), np.zeros(legs)
    turns, trial_turns = np.zeros(legs + 1), np.zeros(legs + 1)
    cost = price(task, legs, points, directions, last_heading, headings, distances)
    if cost < limit:
        cost = clear_cost(task, legs, points, headings, distances, cost, limit, turns, task.gh)
    found = cost < limit
    cost = min(cost, limit)
    free_points = legs - 1
    numbers = free_points + (1 if task.into_base and not (legs == 1 and task.backing) else 0)
    if numbers == 0:
        return cost if found else math.inf, last_heading, turns
    trial, ways = points.copy(), directions.copy()
    step = first_step
    shrink = (last_step / first_step) ** (1.0 / max(steps, 1))
    for turn in range(-repairs, jumps + steps):
        repairing = turn < 0
        if repairing and found:
            continue
        trial[:, :] = points
        ways[:] = directions
        trial_heading = last_heading
        jumping = 0 <= turn < jumps
        if repairing:
            everything = True
        elif jumping:
            everything = not found or next_random(state) < 0.2
        else:
            everything = next_random(state) < 0.15
        which = int(next_random(state) * numbers)
        size = step * (0.05 + 1.95 * next_random(state) ** 2)
        for i in range(numbers):
            if i != which and not everything:
                continue
            if jumping:
                if i < free_points:
                    _jump(task, legs, trial, ways, first_held, last_held, i, state)
                continue
            dx, dy = size * (2 * next_random(state) - 1), size * (2 * next_random(state) - 1)
            if i < free_points:
                pick = next_random(state)
                slide = 1 if pick < 0.25 else (2 if pick < 0.5 else 0)
                _shift(task, legs, trial, directions, first_held, last_held, i, dx, dy, slide)
            else:
                trial_heading += dx / 300.0
        if jumping:
            for i in range(legs):
                held = (i == 0 and (first_held or task.backing)) or (i == legs - 1 and last_held)
                if not held and next_random(state) < (0.5 if not found else 0.2):
                    ways[i] = -ways[i]
            if task.into_base and (everything or which >= free_points - 1):
                pick = int(next_random(state) * aims.shape[0])
                px = trial[legs - 2, 0] if legs > 1 else task.x
                py = trial[legs - 2, 1] if legs > 1 else task.y
                trial_heading = math.atan2(aims[pick, 1] - py, aims[pick, 0] - px)
                if ways[legs - 1] < 0:
                    trial_heading += math.pi
        trial_cost = price(task, legs, trial, ways, trial_heading, headings, distances)
        if trial_cost < cost - 1e-9:
            trial_cost = clear_cost(task, legs, trial, headings, distances, trial_cost, cost, trial_turns, task.gh)
            if trial_cost < cost:
                points[:, :] = trial
                directions[:] = ways
                turns[:] = trial_turns
                cost, last_heading, found = trial_cost, trial_heading, True
                if not (jumping or repairing):
                    step = min(first_step, step * 1.3)
        if turn >= jumps:
            if not found:
                break
            step *= shrink
    return cost if found else math.inf, last_heading, turns
