"""Joint rounding of a way's numbers to what the team can set, compiled: all legs but two are tried, two are solved.

The choices are gone through as a tree, leg by leg (:mod:`motion.search.kernels.choices`): what legs lead to and take is
worked out once for all choices that begin with them, and a beginning that meets something, or that takes longer than
the ways on the list, is left with all that would follow it.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner, inner_maker, kernel
from motion.ground.kernels import Facing
from motion.ground.kernels_base import is_inside_base
from motion.search.kernels.choices import (
    Exact,
    Freedom,
    Steps,
    base_box,
    choices_of,
    end_of_leg_clear,
    heading_within_reach,
    long_way_s,
    reach_home,
    take_leg,
    taken_leg_clear,
    walk_from,
    walking_on,
    within_reach,
)
from motion.search.kernels.task import Stand, leg_cost, turn_cost, wrapped
from motion.search.kernels.trial import Trial, clear_cost

__all__ = [
    "Arrival",
    "Exact",
    "Freedom",
    "Shortlist",
    "Steps",
    "next_clear",
    "round_into_base",
    "round_to_goal",
]


class Arrival(NamedTuple):
    """Where a rounded way must end.

    ``lateral``: how far to the side of the goal's line (mm) is still acceptable, at contact and at the end of the push.
    ``heading_step``: step count of the heading that is held while pushing. ``push_leg``, ``gap``: nominal push leg and
    its gap before contact (mm). ``reach``: how far ahead of the axle the nose is (mm). ``side_price``: seconds for meeting the target at ``lateral`` to the side, growing with
    the square.
    """

    goal: Stand
    lateral: float
    heading_step: int
    push_leg: float
    gap: float
    reach: float
    side_price: float


class Shortlist(NamedTuple):
    """The best ways so far, in order of ``scores`` (M,): (M, K) step counts of headings and of signed distances."""

    scores: np.ndarray
    turn_steps: np.ndarray
    distance_steps: np.ndarray


@inner_maker
def _empty_shortlist(most, legs):
    scores = np.zeros(most)
    for i in range(most):
        scores[i] = math.inf
    return Shortlist(scores, np.zeros((most, legs), np.int64), np.zeros((most, legs), np.int64))


@inner
def _enlist(shortlist, score, walk):
    """Put a way where its score belongs, if it is among the best."""
    scores, legs = shortlist.scores, walk.turn_steps.size
    k = scores.size - 1
    if score >= scores[k]:
        return
    while k > 0 and scores[k - 1] > score:
        scores[k] = scores[k - 1]
        for i in range(legs):
            shortlist.turn_steps[k, i] = shortlist.turn_steps[k - 1, i]
            shortlist.distance_steps[k, i] = shortlist.distance_steps[k - 1, i]
        k -= 1
    scores[k] = score
    for i in range(legs):
        shortlist.turn_steps[k, i] = walk.turn_steps[i]
        shortlist.distance_steps[k, i] = walk.distance_steps[i]


@inner
def _enlisted(shortlist):
    """How many ways are on the list."""
    count = 0
    while count < shortlist.scores.size and shortlist.scores[count] < math.inf:
        count += 1
    return count


@inner_maker
def _nearest_turns(exact, steps, freedom):
    """Every heading on its nearest step (K,)."""
    near = np.zeros(exact.headings.size, np.int64)
    for i in range(near.size):
        heading = exact.start.h if i == 0 and freedom.first_fixed else exact.headings[i]
        near[i] = int(np.round((heading - steps.h0) / steps.turn))
    return near


class _Goal(NamedTuple):
    """The goal as each trial asks for it: the push's lean (sine of its angle to the goal's line), most miss along it."""

    facing: Facing
    lean: float
    along: float
    heading: float


@inner
def _goal(steps, arrival):
    x, y, h = arrival.goal
    final = steps.h0 + arrival.heading_step * steps.turn
    along = max(steps.distance, 0.9 * arrival.gap)
    return _Goal(Facing(x, y, math.cos(h), math.sin(h)), math.sin(wrapped(final - h)), along, final)


@inner
def _side_price(arrival, goal, x, y):
    """Price of ending at (x, y), which may miss the goal's line; inf when it misses too much."""
    gx, gy, gc, gs = goal.facing
    ex, ey = x - gx, y - gy
    lateral = ey * gc - ex * gs
    along = ex * gc + ey * gs
    ahead = arrival.reach  # what meets the target is the nose
    miss = max(abs(lateral + (ahead + arrival.gap) * goal.lean), abs(lateral + (ahead + arrival.push_leg) * goal.lean))
    if miss > arrival.lateral or abs(along) > goal.along:
        return math.inf
    side = miss / arrival.lateral
    return arrival.side_price * side * side


@inner
def _usable(exact, i, distance):
    """Whether a rounded leg goes the same way as the exact one and is not shorter than the robot can drive."""
    return distance * exact.distances[i] > 0 and abs(distance) >= exact.handling.least_leg - 1e-9


@inner
def _two_legs(exact, steps, choices, arrival, goal, walk, shortlist):
    """List the ways whose last two legs (or only one) lead from where the walk is to the goal."""
    legs = exact.headings.size
    k = max(legs - 2, 0)
    before = exact.start.h
    came = 0
    if k > 0:
        came = walk.at[k - 1] // choices.lengths[k - 1]
        before = choices.heading[k - 1, came]
    for a in range(choices.turns[k]):
        walk.turn_steps[k] = choices.turn_steps[k, a]
        first = choices.turn_s[k, came, a]
        if not walking_on(exact.task, walk):
            return
        first += long_way_s(exact.task, walk, k, before, choices.heading[k, a])
        if walk.spent[k] + first + choices.least_s[k + 1] >= shortlist.scores[shortlist.scores.size - 1]:
            continue
        if legs == 1:
            _one_leg(exact, steps, choices, arrival, goal, walk, shortlist, a, first)
            continue
        for b in range(choices.turns[k + 1]):
            walk.turn_steps[k + 1] = choices.turn_steps[k + 1, b]
            taken = walk.spent[k] + first + choices.turn_s[k + 1, a, b]
            _solved_two(exact, steps, choices, arrival, goal, walk, shortlist, a, b, taken)


@inner
def _one_leg(exact, steps, choices, arrival, goal, walk, shortlist, a, first):
    """List the two ways of one leg at a heading."""
    c, s = choices.cosine[0, a], choices.sine[0, a]
    dx, dy = arrival.goal.x - walk.x[0], arrival.goal.y - walk.y[0]
    count = int(np.floor((dx * c + dy * s) / steps.distance))
    for n in range(count, count + 2):
        d = n * steps.distance
        if not _usable(exact, 0, d):
            continue
        x, y = walk.x[0] + d * c, walk.y[0] + d * s
        score = first + leg_cost(exact.handling, d) + _side_price(arrival, goal, x, y)
        if score >= shortlist.scores[shortlist.scores.size - 1]:
            continue
        walk.distance_steps[0] = n
        walk.x[1], walk.y[1] = x, y
        score += _last_clear(exact, walk, 0, choices.heading[0, a], d, goal.heading)
        _enlist(shortlist, score, walk)


@inner
def _solved_two(exact, steps, choices, arrival, goal, walk, shortlist, a, b, taken):
    """List the ways of two legs at two headings: the four steps about the two distances that lead to the goal."""
    k = exact.headings.size - 2
    ac, as_, bc, bs = choices.cosine[k, a], choices.sine[k, a], choices.cosine[k + 1, b], choices.sine[k + 1, b]
    det = ac * bs - as_ * bc
    if abs(det) < 1e-3:
        return
    dx, dy = arrival.goal.x - walk.x[k], arrival.goal.y - walk.y[k]
    first = int(np.floor((dx * bs - dy * bc) / det / steps.distance))
    second = int(np.floor((ac * dy - as_ * dx) / det / steps.distance))
    for corner in range(4):
        n, m = first + corner % 2, second + corner // 2
        d, e = n * steps.distance, m * steps.distance
        if not (_usable(exact, k, d) and _usable(exact, k + 1, e)):
            continue
        middle_x, middle_y = walk.x[k] + d * ac, walk.y[k] + d * as_
        x, y = middle_x + e * bc, middle_y + e * bs
        price = _side_price(arrival, goal, x, y)
        if price == math.inf:
            continue
        score = taken + leg_cost(exact.handling, d) + leg_cost(exact.handling, e) + price
        if score >= shortlist.scores[shortlist.scores.size - 1]:
            continue
        walk.distance_steps[k], walk.distance_steps[k + 1] = n, m
        walk.x[k + 1], walk.y[k + 1], walk.x[k + 2], walk.y[k + 2] = middle_x, middle_y, x, y
        heading = choices.heading[k, a]
        if not end_of_leg_clear(exact.task, walk, k, heading, d):
            continue
        score += long_way_s(exact.task, walk, k + 1, heading, choices.heading[k + 1, b])
        if score < math.inf:
            score += _last_clear(exact, walk, k + 1, choices.heading[k + 1, b], e, goal.heading)
        _enlist(shortlist, score, walk)


@inner
def _last_clear(exact, walk, i, heading, distance, final_heading):
    """What the last turn adds by going the long way round, inf when it or the last leg i meets something."""
    if not end_of_leg_clear(exact.task, walk, i, heading, distance):
        return math.inf
    return long_way_s(exact.task, walk, i + 1, heading, final_heading)


@inner
def rounded_cost(task, headings, distances, final_heading, points, turns):
    """Cost of legs with exact given numbers when everything is clear, inf otherwise; fills points and turns.

    The goal's heading is replaced by ``final_heading`` (rad); a way into the base must end inside it.
    """
    legs = headings.size
    x, y, heading, cost = task.trip.start.x, task.trip.start.y, task.trip.start.h, 0.0
    for i in range(legs):
        x += distances[i] * math.cos(headings[i])
        y += distances[i] * math.sin(headings[i])
        points[i, 0], points[i, 1] = x, y
        cost += turn_cost(task.trip.handling, wrapped(headings[i] - heading))
        cost += leg_cost(task.trip.handling, distances[i])
        heading = headings[i]
    if task.trip.into_base and not is_inside_base(task.homing, x, y, headings[legs - 1]):
        return math.inf
    return clear_cost(
        task, Trial(points, distances, headings, headings, distances, turns), cost, math.inf, final_heading
    )


@kernel
def round_to_goal(exact, steps, freedom, arrival, most):
    """Clear whole-number ways that end near the goal, best first.

    Parameters
    ----------
    exact, steps, freedom, arrival
        As :class:`Exact`, :class:`Steps`, :class:`Freedom` and :class:`Arrival`.
    most
        How many to list.

    Returns
    -------
    count, Shortlist
        How many were found; the error along the goal's line is left to the push.
    """
    legs = exact.headings.size
    tried = max(legs - 2, 0)  # legs whose distance is tried; the last two (or the only one) are solved
    shortlist = _empty_shortlist(most, legs)
    near = _nearest_turns(exact, steps, freedom)
    if freedom.last_fixed:
        near[legs - 1] = arrival.heading_step
    distances = np.zeros(legs, np.int64)
    for i in range(legs):
        distances[i] = int(np.round(exact.distances[i] / steps.distance))
    choices = choices_of(exact, steps, freedom, near, distances, tried)
    walk = walk_from(exact, freedom.checks)
    _all_to_goal(exact, steps, choices, arrival, tried, walk, shortlist)
    return _enlisted(shortlist), shortlist


@inner
def _all_to_goal(exact, steps, choices, arrival, tried, walk, shortlist):
    """List the ways to the goal, going down the tree of the first legs' choices."""
    goal, i, most = _goal(steps, arrival), 0, shortlist.scores.size
    if tried == 0:
        _two_legs(exact, steps, choices, arrival, goal, walk, shortlist)
        i = -1
    while i >= 0 and walking_on(exact.task, walk):
        walk.at[i] += 1
        if walk.at[i] >= choices.turns[i] * choices.lengths[i]:
            i -= 1
        elif take_leg(exact, choices, walk, i, shortlist.scores[most - 1]) and taken_leg_clear(exact, choices, walk, i):
            if i + 1 == tried:
                _two_legs(exact, steps, choices, arrival, goal, walk, shortlist)
            else:
                i += 1
                walk.at[i] = -1


@kernel
def round_into_base(exact, steps, freedom, backing, most):
    """Clear whole-number ways that end in the base, best first.

    As :func:`round_to_goal`, but every leg's distance is tried about its exact number, the last one upwards only; the
    first one is at least what the robot must back off when it is ``backing``.
    """
    legs = exact.headings.size
    shortlist = _empty_shortlist(most, legs)
    distances = np.zeros(legs, np.int64)
    for i in range(legs):
        near = int(math.floor(abs(exact.distances[i]) / steps.distance + (0.0 if i == legs - 1 else 0.5)))
        near += freedom.spread if i == legs - 1 else 0
        distances[i] = near if exact.distances[i] > 0 else -near
    choices = choices_of(exact, steps, freedom, _nearest_turns(exact, steps, freedom), distances, legs)
    walk, reach, box = walk_from(exact, freedom.checks), reach_home(exact, choices), base_box(exact.task.homing)
    _all_into_base(exact, choices, reach, box, walk, shortlist)
    return _enlisted(shortlist), shortlist


@inner
def _all_into_base(exact, choices, reach, box, walk, shortlist):
    """List the ways into the base, going down the tree of all legs' choices."""
    legs, homing, i, most = exact.headings.size, exact.task.homing, 0, shortlist.scores.size
    while i >= 0 and walking_on(exact.task, walk):
        walk.at[i] += 1
        if walk.at[i] >= choices.turns[i] * choices.lengths[i]:
            i -= 1
            continue
        if walk.at[i] % choices.lengths[i] == 0 and not heading_within_reach(choices, walk, i, reach, box):
            walk.at[i] += choices.lengths[i] - 1
            continue
        if not take_leg(exact, choices, walk, i, shortlist.scores[most - 1]) or not within_reach(
            walk, i + 1, reach, box
        ):
            continue
        last = i + 1 == legs
        if last and not is_inside_base(
            homing, walk.x[legs], walk.y[legs], choices.heading[i, walk.at[i] // choices.lengths[i]]
        ):
            continue
        if not taken_leg_clear(exact, choices, walk, i):
            continue
        if last:
            _enlist(shortlist, walk.spent[legs], walk)
        else:
            i += 1
            walk.at[i] = -1


@kernel
def next_clear(task, turn_steps, distance_steps, steps, final_heading, first, points, turns):
    """Index of the first way, from ``first`` on, of those in whole steps (M, K) that is clear; M when none is.

    Fills that way's ``points`` (K, 2) and ``turns`` (K + 1,); see :func:`rounded_cost`.
    """
    for k in range(first, turn_steps.shape[0]):
        headings = steps.h0 + turn_steps[k] * steps.turn
        if rounded_cost(task, headings, distance_steps[k] * steps.distance, final_heading, points, turns) < math.inf:
            return k
    return turn_steps.shape[0]
