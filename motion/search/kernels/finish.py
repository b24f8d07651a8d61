"""Ending courses of the graph at the goal or in the base, and telling those that differ, compiled."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner
from motion.ground.kernels import leg_free
from motion.search.kernels.arcs import arc_turn
from motion.search.kernels.moves import passes
from motion.search.kernels.task import leg_cost, turn_cost, wrapped
from motion.search.kernels.trial import last_leg

#: Courses whose turning points all lie nearer and whose last legs point nearer than this are one and the same.
APART_MM, APART_RAD = 110.0, 0.4


#: A finished course: the state that it ends from, and its last leg: +1 ahead or -1 back, heading (rad), distance (mm).
FINISH = np.dtype([("state", np.int64)] + [(name, np.float64) for name in ("cost", "direction", "heading", "distance")])


class LastLegs(NamedTuple):
    """Last legs into the base from every position: ``known`` (N,), ``heading`` and ``distance`` (N, 2 B).

    Two for each aim, ahead and back; a distance of inf when there is none.
    """

    known: np.ndarray
    heading: np.ndarray
    distance: np.ndarray


class GraphCourses(NamedTuple):
    """Finished courses that differ, in order of cost.

    ``legs`` (C,) how many each has; ``points`` (C, L, 2) after each leg; ``directions`` (C, L) of +1 ahead and -1 back;
    ``headings`` (C,) of the last legs. Only the first ``found`` hold anything.
    """

    found: int
    legs: np.ndarray
    points: np.ndarray
    directions: np.ndarray
    headings: np.ndarray


@inner
def _keep(finishes, cost, state, direction, heading, distance):
    """Insert a finished course in order of cost."""
    k = finishes.size - 1
    if cost >= finishes[k].cost:
        return
    while k > 0 and finishes[k - 1].cost > cost:
        finishes[k] = finishes[k - 1]
        k -= 1
    finish = finishes[k]
    finish.cost, finish.state = cost, state
    finish.direction, finish.heading, finish.distance = direction, heading, distance


@inner
def finish_at_goal(task, graph, moves, states, finishes, st, slack):
    """End at the goal from a state."""
    p, heading, handling = states[st].node, states[st].heading, task.trip.handling
    for way in range(2):
        at = moves.bearing[p, 1] + (math.pi if way == 1 else 0.0)
        by = arc_turn(graph, p, heading, at)
        if math.isnan(by):
            continue
        cost = states[st].cost + turn_cost(handling, by) + moves.travel[p, 1]
        if cost >= finishes[0].cost * slack:
            continue
        final = arc_turn(graph, 1, at, task.trip.goal.h)
        if math.isnan(final):
            continue
        cost += turn_cost(handling, final)
        if cost >= finishes[0].cost * slack:
            continue
        if passes(task.walls, task.body, graph, moves, p if way == 0 else 1, 1 if way == 0 else p):
            _keep(finishes, cost, st, 1.0 if way == 0 else -1.0, at, moves.travel[p, 1])


@inner
def _free_last_leg(task, x, y, heading, direction):
    """Distance of the last leg into the base along a heading, when it is free and long enough; inf otherwise."""
    d = last_leg(task.homing, task.trip.handling.least_leg, x, y, heading, direction)
    if d == math.inf:
        return d
    free = leg_free(task.walls, task.body, x, y, math.cos(heading), math.sin(heading), direction * d)
    return d if free else math.inf


@inner
def _find_last_legs(task, nodes, aims, lasts, p):
    """Look from p for last legs towards the aims."""
    lasts.known[p] = 1
    x, y = nodes[p, 0], nodes[p, 1]
    for o in range(2 * aims.shape[0]):
        toward = math.atan2(aims[o // 2, 1] - y, aims[o // 2, 0] - x)
        at = toward if o % 2 == 0 else toward + math.pi
        lasts.heading[p, o] = at
        lasts.distance[p, o] = _free_last_leg(task, x, y, at, 1.0 if o % 2 == 0 else -1.0)


@inner
def finish_straight_back(task, finishes):
    """End a course that is backing by its first leg."""
    x, y, heading = task.trip.start
    d = last_leg(task.homing, task.trip.handling.least_back, x, y, heading, -1.0)
    if d < math.inf and leg_free(task.first_walls, task.first_body, x, y, math.cos(heading), math.sin(heading), -d):
        _keep(finishes, leg_cost(task.trip.handling, d), 0, -1.0, heading, d)


@inner
def finish_in_base(task, graph, aims, lasts, states, finishes, st, slack):
    """End in the base from a state."""
    p, heading, handling = states[st].node, states[st].heading, task.trip.handling
    if lasts.known[p] == 0:
        _find_last_legs(task, graph.nodes, aims, lasts, p)
    for o in range(2 * aims.shape[0]):
        d = lasts.distance[p, o]
        if d == math.inf:
            continue
        by = arc_turn(graph, p, heading, lasts.heading[p, o])
        if math.isnan(by):
            continue
        cost = states[st].cost + turn_cost(handling, by) + leg_cost(handling, d)
        if cost < finishes[0].cost * slack:
            _keep(finishes, cost, st, 1.0 if o % 2 == 0 else -1.0, lasts.heading[p, o], d)


@inner
def _trace(trip, nodes, states, finish, courses, row):
    """Write a finished course into a row."""
    depth, back, p = 0, finish.state, states[finish.state].node
    while states[back].parent >= 0:
        depth += 1
        back = states[back].parent
    courses.legs[row] = depth + 1
    d, way, at = finish.distance, finish.direction, finish.heading
    x, y = trip.goal.x, trip.goal.y
    if trip.into_base:
        x, y = nodes[p, 0] + way * d * math.cos(at), nodes[p, 1] + way * d * math.sin(at)
    courses.points[row, depth, 0], courses.points[row, depth, 1] = x, y
    courses.directions[row, depth], courses.headings[row] = way, at
    back = finish.state
    for k in range(depth - 1, -1, -1):
        state = states[back]
        courses.points[row, k, 0], courses.points[row, k, 1] = nodes[state.node, 0], nodes[state.node, 1]
        courses.directions[row, k] = state.direction
        back = state.parent


@inner
def _same(courses, i, j):
    """Whether the courses in two rows are one and the same."""
    legs, points, directions = courses.legs[i], courses.points, courses.directions
    if legs != courses.legs[j] or abs(wrapped(courses.headings[i] - courses.headings[j])) >= APART_RAD:
        return False
    for k in range(legs):
        if directions[i, k] != directions[j, k]:
            return False
        apart = max(abs(points[i, k, 0] - points[j, k, 0]), abs(points[i, k, 1] - points[j, k, 1]))
        if k < legs - 1 and apart >= APART_MM:
            return False
    return True


@inner
def different_courses(trip, nodes, states, finishes, courses, slack):
    """Fill rows with the cheapest finished courses that differ; returns how many."""
    count = 0
    for finish in finishes:
        if not finish.cost < finishes[0].cost * slack:
            break
        _trace(trip, nodes, states, finish, courses, count)
        repeats = False
        for j in range(count):
            repeats = repeats or _same(courses, count, j)
        count += 0 if repeats else 1
        if count == courses.legs.size:
            break
    return count
