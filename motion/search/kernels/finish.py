"""Ending courses of the graph at the goal or in the base, and telling those that differ, compiled."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner
from motion.ground.kernels import leg_is_free
from motion.search.kernels.arcs import arc_turn
from motion.search.kernels.moves import passes
from motion.search.kernels.task import leg_cost, turn_cost, wrapped
from motion.search.kernels.trial import last_leg

#: Courses whose turning points all lie nearer and whose last legs point nearer than this are one and the same.
APART_MM, APART_RAD = 110.0, 0.4


#: A finished course: the state that it ends from, and its last leg: +1 ahead or -1 back, heading (rad), distance (mm).
FINISH = np.dtype([("state", np.int64)] + [(name, np.float64) for name in ("cost", "direction", "heading", "distance")])


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
def finish_at_goal(task, graph, tested, states, finishes, st, slack):
    """End at the goal from a state."""
    p, heading, handling = states[st].node, states[st].heading, task.trip.handling
    dx, dy = graph.nodes[1, 0] - graph.nodes[p, 0], graph.nodes[1, 1] - graph.nodes[p, 1]
    d = math.hypot(dx, dy)
    if d < handling.least_leg:
        return
    bearing, seconds = math.atan2(dy, dx), leg_cost(handling, d)
    for way in range(2):
        at = bearing + (math.pi if way == 1 else 0.0)
        by = arc_turn(graph, p, heading, at)
        if math.isnan(by):
            continue
        cost = states[st].cost + turn_cost(handling, by) + seconds
        if cost >= finishes[0].cost * slack:
            continue
        final = arc_turn(graph, 1, at, task.trip.goal.h)
        if math.isnan(final):
            continue
        cost += turn_cost(handling, final)
        if cost >= finishes[0].cost * slack:
            continue
        if passes(task.walls, task.body, graph, tested, p if way == 0 else 1, 1 if way == 0 else p):
            _keep(finishes, cost, st, 1.0 if way == 0 else -1.0, at, d)


@inner
def _list_last_legs(task, nodes, aims, tested, p):
    """List the legs from p towards the aims that end in the base, whatever they meet."""
    count, x, y = 0, nodes[p, 0], nodes[p, 1]
    for o in range(2 * aims.shape[0]):
        toward = math.atan2(aims[o // 2, 1] - y, aims[o // 2, 0] - x)
        heading, direction = (toward, 1.0) if o % 2 == 0 else (toward + math.pi, -1.0)
        d = last_leg(task.homing, task.trip.handling.least_leg, x, y, heading, direction)
        if d < math.inf:
            last = tested.lasts[p, count]
            last.free, last.direction, last.heading, last.distance = 0, direction, heading, d
            count += 1
    tested.last_count[p] = count


@inner
def _free_last_leg(task, nodes, p, last):
    """Whether a last leg from p meets nothing (looked at once)."""
    if last.free == 0:
        c, s = math.cos(last.heading), math.sin(last.heading)
        if not leg_is_free(task.walls, task.body, nodes[p, 0], nodes[p, 1], c, s, last.direction * last.distance):
            return False
        last.free = 1
    return True


@inner
def finish_straight_back(task, finishes):
    """End a course that is backing by its first leg."""
    x, y, heading = task.trip.start
    d = last_leg(task.homing, task.trip.handling.least_back, x, y, heading, -1.0)
    if d < math.inf and leg_is_free(task.first_walls, task.first_body, x, y, math.cos(heading), math.sin(heading), -d):
        _keep(finishes, leg_cost(task.trip.handling, d), 0, -1.0, heading, d)


@inner
def finish_in_base(task, graph, aims, tested, states, finishes, st, slack):
    """End in the base from a state; legs that turn out not to be free are taken off the list."""
    p, heading, handling = states[st].node, states[st].heading, task.trip.handling
    if tested.last_count[p] < 0:
        _list_last_legs(task, graph.nodes, aims, tested, p)
    kept = 0
    for o in range(tested.last_count[p]):
        last = tested.lasts[p, kept]
        if kept < o:
            tested.lasts[p, kept] = tested.lasts[p, o]
        kept += 1
        by = arc_turn(graph, p, heading, last.heading)
        if math.isnan(by):
            continue
        cost = states[st].cost + turn_cost(handling, by) + leg_cost(handling, last.distance)
        if cost >= finishes[0].cost * slack:
            continue
        if _free_last_leg(task, graph.nodes, p, last):
            _keep(finishes, cost, st, last.direction, last.heading, last.distance)
        else:
            kept -= 1
    tested.last_count[p] = kept


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
