"""A course being tried, compiled: what it costs, and whether it is clear."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner
from motion.ground.kernels import Facing, leg_is_free, pose_free
from motion.ground.kernels_base import base_entry, is_inside_base
from motion.search.kernels.task import free_turn, leg_cost, turn_cost, wrapped


class Trial(NamedTuple):
    """A course of K legs: ``points`` (K, 2) where they end and ``directions`` (K,) +1 ahead or -1 back.

    ``last_heading`` (1,) is that of the last leg of a course into the base. Filled in when it is priced: ``headings``
    (K,) and signed ``distances`` (K,); when it is found clear: signed ``turns`` (K + 1,) before each leg and at the end.
    """

    points: np.ndarray
    directions: np.ndarray
    last_heading: np.ndarray
    headings: np.ndarray
    distances: np.ndarray
    turns: np.ndarray


@inner
def _side_spread(trip, trial):
    """Standard deviation (mm) to the side at the goal that the course's own legs and turns add, to first order.

    What every course to this goal shares (start pose, common scale) is left out: (E - P_1) is the same for all.
    """
    goal, scatter = trip.goal, trip.scatter
    gc, gs = math.cos(goal.h), math.sin(goal.h)
    variance = 0.0
    for i in range(trial.directions.size):
        d = trial.distances[i]
        along = d * math.cos(trial.headings[i] - goal.h)
        aside = d * math.sin(trial.headings[i] - goal.h)
        drift = 0.5 * scatter.drift_sd * d
        variance += (scatter.length_sd * aside) ** 2 + (drift * along) ** 2
        if scatter.absolute_yaw:
            arm = along
        else:  # a turn's error carries on to the end
            px = trip.start.x if i == 0 else trial.points[i - 1, 0]
            py = trip.start.y if i == 0 else trial.points[i - 1, 1]
            arm = (goal.x - px) * gc + (goal.y - py) * gs
        variance += (scatter.turn_sd * arm) ** 2
    return math.sqrt(variance)


@inner
def last_leg(homing, least, x, y, heading, direction):
    """Distance of the last leg into the base along a heading, at ``least`` so much; inf when it never ends."""
    c, s = math.cos(heading), math.sin(heading)
    d = base_entry(homing, Facing(x, y, c, s), direction)
    if d == math.inf or d >= least:
        return d
    return least if is_inside_base(homing, x + direction * least * c, y + direction * least * s, heading) else math.inf


@inner
def _legs_alone(trip, trial):
    """Cost of the legs without turns, and without the last one into the base; inf when one of them is too short.

    Fills the trial's distances of these legs.
    """
    handling, points = trip.handling, trial.points
    x, y, cost = trip.start.x, trip.start.y, 0.0
    for i in range(trial.directions.size - (1 if trip.into_base else 0)):
        d = math.hypot(points[i, 0] - x, points[i, 1] - y)
        if d < handling.least_leg or (i == 0 and trip.backing and d < handling.least_back):
            return math.inf
        trial.distances[i] = trial.directions[i] * d
        cost += leg_cost(handling, d)
        x, y = points[i, 0], points[i, 1]
    return cost


@inner
def price(trip, homing, trial, limit):
    """Cost with every turn the short way, clearance not looked at; inf when a leg is too short or never ends.

    A trial whose legs, with the turns before some of them, cost ``limit`` is left with inf. Else its headings and distances are filled, and the last
    point of a course into the base.
    """
    handling, points = trip.handling, trial.points
    left = _legs_alone(trip, trial)
    if left >= limit:
        return math.inf
    x, y, heading = trip.start
    cost = 0.0
    last = trial.directions.size - 1
    for i in range(last + 1):
        way = trial.directions[i]
        if i == last and trip.into_base:
            at = trial.last_heading[0]
            d = last_leg(homing, handling.least_leg, x, y, at, way)
            if d < handling.least_leg or d == math.inf or (i == 0 and trip.backing and d < handling.least_back):
                return math.inf
            points[i, 0], points[i, 1] = x + way * d * math.cos(at), y + way * d * math.sin(at)
            trial.distances[i] = way * d
        else:
            at = math.atan2(way * (points[i, 1] - y), way * (points[i, 0] - x))
            d = abs(trial.distances[i])
            left -= leg_cost(handling, d)
        cost += leg_cost(handling, d) + turn_cost(handling, wrapped(at - heading))
        if cost + left >= limit:
            return math.inf
        trial.headings[i] = at
        x, y, heading = points[i, 0], points[i, 1], at
    if not trip.into_base:
        cost += turn_cost(handling, wrapped(trip.goal.h - heading))
        if trip.scatter.price > 0.0:
            cost += trip.scatter.price * _side_spread(trip, trial)
    return cost


@inner
def leg_clear(task, first, x, y, heading, distance, end_x, end_y):
    """Whether a leg is clear; the ``first`` one of a trip that is backing goes under its own walls and body."""
    c, s = math.cos(heading), math.sin(heading)
    if not (first and task.trip.backing):
        return leg_is_free(task.walls, task.body, x, y, c, s, distance)
    return (
        leg_is_free(task.first_walls, task.first_body, x, y, c, s, distance)
        and pose_free(task.walls, task.first_body, end_x, end_y, heading)
        and pose_free(task.walls, task.body, end_x, end_y, heading)
    )


@inner
def _legs_free(task, trial):
    """Whether all legs are clear."""
    x, y = task.trip.start.x, task.trip.start.y
    for i in range(trial.directions.size):
        end_x, end_y = trial.points[i, 0], trial.points[i, 1]
        if not leg_clear(task, i == 0, x, y, trial.headings[i], trial.distances[i], end_x, end_y):
            return False
        x, y = end_x, end_y
    return True


@inner
def clear_cost(task, trial, cost, limit, final_heading):
    """Cost with every turn the way that is free, inf when something is met or the cost reaches ``limit``.

    The trial was priced (:func:`price`) at ``cost``; its turns are filled, the last of them to ``final_heading`` (rad).
    """
    if not _legs_free(task, trial):  # legs first: they fail more often and are cheaper to test
        return math.inf
    x, y, heading = task.trip.start
    legs = trial.directions.size
    for i in range(legs + 1):
        if i == legs and task.trip.into_base:
            trial.turns[i] = 0.0
            break
        at = trial.headings[i] if i < legs else final_heading
        short = wrapped(at - heading)
        by = free_turn(task.walls, task.body, x, y, heading, short)
        if math.isnan(by) or (i == 0 and task.trip.backing and by != 0.0):
            return math.inf
        cost += turn_cost(task.trip.handling, by) - turn_cost(task.trip.handling, short)
        if cost >= limit:
            return math.inf
        trial.turns[i] = by
        heading = at
        if i < legs:
            x, y = trial.points[i, 0], trial.points[i, 1]
    return cost
