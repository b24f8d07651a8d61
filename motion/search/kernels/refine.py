"""Local search on the positions of a course's turning points, compiled.

A course of K legs has K - 1 turning points (and, into the base, the heading of the last leg). A point may be held on
the line of the start heading (no first turn) or on the line of the goal heading (no last turn): then one number moves
it. Random steps of falling size; a step is first priced (cheap) and only a cheaper one is tested for clearance.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner, inner_maker, kernel
from motion.search.kernels.task import next_random
from motion.search.kernels.trial import Trial, clear_cost, price


class Held(NamedTuple):
    """Whether the first turning point stays on the start's line, and the last one on the goal's line."""

    first: bool
    last: bool


class Patience(NamedTuple):
    """How long to try, and with which luck.

    ``limit``: only courses cheaper than this are of interest; the given course may be anything when it is finite.
    ``repairs``: how many trials near the given course are made to find a clear one when it is not clear itself.
    ``jumps``: how many trials follow that put one point anywhere. ``steps``: how many random steps follow, and their
    size (mm) at the beginning, ``first_step``, and at the end, ``last_step``. ``seed``: a positive integer.
    """

    limit: float
    repairs: int
    jumps: int
    steps: int
    first_step: float
    last_step: float
    seed: int


@inner
def _shift(trip, trial, held, i, by, slide):
    """Move point i; held points move along their line; ``slide`` moves it along its leg in (1) or its leg out (2)."""
    points = trial.points
    if i == 0 and held.first:
        ux, uy = math.cos(trip.start.h), math.sin(trip.start.h)
    elif i == points.shape[0] - 2 and held.last:
        ux, uy = math.cos(trip.goal.h), math.sin(trip.goal.h)
    elif slide == 1:
        px = trip.start.x if i == 0 else points[i - 1, 0]
        py = trip.start.y if i == 0 else points[i - 1, 1]
        ux, uy = points[i, 0] - px, points[i, 1] - py
    elif slide == 2:
        ux, uy = points[i + 1, 0] - points[i, 0], points[i + 1, 1] - points[i, 1]
    else:
        points[i, 0] += by[0]
        points[i, 1] += by[1]
        return
    size = math.hypot(ux, uy)
    if size > 1e-9:
        points[i, 0] += by[0] * ux / size
        points[i, 1] += by[0] * uy / size


@inner
def _jump(trip, edges, trial, held, i, state):
    """Put point i anywhere on the table, or anywhere on the line that holds it."""
    points = trial.points
    x0, y0, x1, y1 = edges[0], edges[1], edges[2], edges[3]
    if i == 0 and held.first:
        t = (x1 - x0) * next_random(state) ** 2
        if trip.backing:  # most courses back off as little as they can
            t = trip.handling.least_back * (1.0 + 1e-12)
            if next_random(state) < 0.6:
                t += 0.5 * (x1 - x0) * next_random(state) ** 3
        way = -1.0 if trip.backing else (1.0 if next_random(state) < 0.5 else -1.0)
        trial.directions[0] = way
        points[0, 0] = trip.start.x + way * t * math.cos(trip.start.h)
        points[0, 1] = trip.start.y + way * t * math.sin(trip.start.h)
    elif i == points.shape[0] - 2 and held.last:
        t = (x1 - x0) * next_random(state) ** 2
        points[i, 0], points[i, 1] = trip.goal.x - t * math.cos(trip.goal.h), trip.goal.y - t * math.sin(trip.goal.h)
        trial.directions[i + 1] = 1.0
    else:
        points[i, 0] = x0 + (x1 - x0) * next_random(state)
        points[i, 1] = y0 + (y1 - y0) * next_random(state)


@inner
def _free_numbers(trip, legs):
    """How many turning points and headings there are to change."""
    return legs - 1 + (1 if trip.into_base and not (legs == 1 and trip.backing) else 0)


@inner
def _turn_around(trip, trial, held, found, state):
    """Drive some legs the other way round."""
    legs = trial.directions.size
    for i in range(legs):
        kept = (i == 0 and (held.first or trip.backing)) or (i == legs - 1 and held.last)
        if not kept and next_random(state) < (0.5 if not found else 0.2):
            trial.directions[i] = -trial.directions[i]


@inner
def _aim_anew(trip, trial, aims, state):
    """Head the last leg for one of the aims in the base."""
    last = trial.directions.size - 1
    pick = int(next_random(state) * aims.shape[0])
    px = trial.points[last - 1, 0] if last > 0 else trip.start.x
    py = trial.points[last - 1, 1] if last > 0 else trip.start.y
    heading = math.atan2(aims[pick, 1] - py, aims[pick, 0] - px)
    if trial.directions[last] < 0:
        heading += math.pi
    trial.last_heading[0] = heading


@inner
def _jumped(trip, edges, trial, held, aims, everything, found, state):
    """Put one point, or everything, anywhere."""
    legs = trial.directions.size
    numbers = _free_numbers(trip, legs)
    which = int(next_random(state) * numbers)
    next_random(state)  # the size of a step, which a jump has not
    for i in range(legs - 1):
        if i == which or everything:
            _jump(trip, edges, trial, held, i, state)
    _turn_around(trip, trial, held, found, state)
    if trip.into_base and (everything or which >= legs - 2):
        _aim_anew(trip, trial, aims, state)


@inner
def _stepped(trip, trial, held, everything, step, state):
    """Move one number, or everything, by a random step."""
    legs = trial.directions.size
    numbers = _free_numbers(trip, legs)
    which = int(next_random(state) * numbers)
    size = step * (0.05 + 1.95 * next_random(state) ** 2)
    for i in range(numbers):
        if i == which or everything:
            dx, dy = size * (2 * next_random(state) - 1), size * (2 * next_random(state) - 1)
            if i < legs - 1:
                pick = next_random(state)
                _shift(trip, trial, held, i, (dx, dy), 1 if pick < 0.25 else (2 if pick < 0.5 else 0))
            else:
                trial.last_heading[0] += dx / 300.0


@inner
def _take_over(course, trial):
    """Make a trial the same as a course, its turns left out."""
    for i in range(course.directions.size):
        trial.points[i, 0], trial.points[i, 1] = course.points[i, 0], course.points[i, 1]
        trial.directions[i] = course.directions[i]
    trial.last_heading[0] = course.last_heading[0]


@inner_maker
def _trials(task, course, held, aims, patience, cost):
    """Try to better a course (in place) whose cost is given, inf when it is not clear; the new cost."""
    legs = course.directions.size
    state = np.empty(1, dtype=np.uint64)
    state[0] = np.uint64(88172645463325252) ^ (np.uint64(patience.seed) * np.uint64(2654435761))
    trial = Trial(
        np.zeros((legs, 2)), np.zeros(legs), np.zeros(1), course.headings, course.distances, np.zeros(legs + 1)
    )
    return _try(task, course, held, aims, patience, cost, state, trial)


@inner
def _try(task, course, held, aims, patience, cost, state, trial):
    """As :func:`_trials`, with a state of random numbers and a trial to work on."""
    legs = course.directions.size
    found, limit = cost < patience.limit, min(cost, patience.limit)
    step = patience.first_step
    shrink = (patience.last_step / patience.first_step) ** (1.0 / max(patience.steps, 1))
    for turn in range(-patience.repairs, patience.jumps + patience.steps):
        if task.stop[0] != 0:
            break
        if turn < 0 and found:
            continue
        _take_over(course, trial)
        if 0 <= turn < patience.jumps:
            everything = not found or next_random(state) < 0.2
            _jumped(task.trip, task.walls.edges, trial, held, aims, everything, found, state)
        else:
            everything = turn < 0 or next_random(state) < 0.15
            _stepped(task.trip, trial, held, everything, step, state)
        cost = price(task.trip, task.homing, trial, limit)
        if cost < limit - 1e-9:
            cost = clear_cost(task, trial, cost, limit, task.trip.goal.h)
            if cost < limit:
                limit, found = cost, True
                _take_over(trial, course)
                for i in range(legs + 1):
                    course.turns[i] = trial.turns[i]
                if turn >= patience.jumps:
                    step = min(patience.first_step, step * 1.3)
        if turn >= patience.jumps:
            if not found:
                break
            step *= shrink
    return limit if found else math.inf


@kernel
def refine(task, points, directions, last_heading, aims, held, patience):
    """Improve a course in place, or find one.

    Parameters
    ----------
    task
        The phase (a :class:`motion.search.kernels.task.Task`).
    points, directions
        (legs, 2) ends of the legs, (legs,) +1 ahead or -1 back; both are changed.
    last_heading
        Heading of the last leg, for a task into the base.
    aims
        (B, 2) points in the base that a last leg may head for.
    held, patience
        As :class:`Held` and :class:`Patience`.

    Returns
    -------
    cost, last_heading, turns
        Cost (inf when no clear course under the limit was found), heading of the last leg, signed turns (legs + 1,).
    """
    legs = directions.size
    course = Trial(points, directions, np.zeros(1), np.zeros(legs), np.zeros(legs), np.zeros(legs + 1))
    course.last_heading[0] = last_heading
    cost = price(task.trip, task.homing, course, math.inf)
    cost = clear_cost(task, course, cost, patience.limit, task.trip.goal.h) if cost < patience.limit else math.inf
    if _free_numbers(task.trip, legs) > 0:
        cost = _trials(task, course, held, aims, patience, cost)
    return cost, course.last_heading[0], course.turns
