"""Joint rounding of a way's numbers to what the team can set, compiled: all legs but two are tried, two are solved."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner, kernel
from motion.ground.kernels import Facing
from motion.ground.kernels_base import inside_base
from motion.search.kernels.task import Handling, Stand, Task, wrapped
from motion.search.kernels.trial import Trial, clear_cost


class Exact(NamedTuple):
    """Exact legs to be rounded: (K,) ``headings`` (rad) and signed ``distances`` (mm), from ``start``; how one drives.

    ``task`` is the phase in which what comes of it must be clear.
    """

    start: Stand
    headings: np.ndarray
    distances: np.ndarray
    handling: Handling
    task: Task


class Steps(NamedTuple):
    """Headings may be ``h0 + n turn`` (rad), distances multiples of ``distance`` (mm)."""

    h0: float
    turn: float
    distance: float


class Freedom(NamedTuple):
    """Which numbers are tried how far from the nearest step.

    ``first_fixed``: the first leg keeps the start heading (no turn); ``last_fixed``: the last keeps the goal's.
    ``rigid``: how many of the first legs just take the nearest step (a way of many legs would have too many choices).
    ``spread``: how many steps either side of the exact number are tried. ``checks``: how many ways are tested for
    clearance as they are listed, so that only clear ones are; 0 lists all, to be tested by :func:`next_clear`.
    """

    first_fixed: bool
    last_fixed: bool
    rigid: int
    spread: int
    checks: int


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


class Rounding(NamedTuple):
    """A way in whole steps while it is tried.

    ``near_turns``, ``near_distances`` (K,): the step counts from which ``digits`` (D,) count, those of headings first;
    ``held`` (D,) says which digits stay 0. ``turn_steps``, ``distance_steps``, ``headings``, ``distances`` (K,): what
    comes of it.
    """

    near_turns: np.ndarray
    near_distances: np.ndarray
    digits: np.ndarray
    held: np.ndarray
    turn_steps: np.ndarray
    distance_steps: np.ndarray
    headings: np.ndarray
    distances: np.ndarray


@inner
def _empty_shortlist(most, legs):
    scores = np.zeros(most)
    for i in range(most):
        scores[i] = math.inf
    return Shortlist(scores, np.zeros((most, legs), np.int64), np.zeros((most, legs), np.int64))


@inner
def _enlist(shortlist, score, rounding):
    """Put a way where its score belongs, if it is among the best."""
    scores, legs = shortlist.scores, rounding.headings.size
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
        shortlist.turn_steps[k, i] = rounding.turn_steps[i]
        shortlist.distance_steps[k, i] = rounding.distance_steps[i]


@inner
def _enlisted(shortlist):
    """How many ways are on the list."""
    count = 0
    while count < shortlist.scores.size and shortlist.scores[count] < math.inf:
        count += 1
    return count


@inner
def _time(handling, heading, headings, distances):
    """Cost of legs at given headings and signed distances from a heading, turns the short way."""
    cost, at = 0.0, heading
    for i in range(headings.size):
        d = abs(distances[i])
        by = wrapped(headings[i] - at)
        move = d / handling.speed + handling.speed / handling.acceleration
        if d < handling.speed * handling.speed / handling.acceleration:
            move = 2 * math.sqrt(d / handling.acceleration)
        cost += move + handling.settle
        a = abs(by)
        if a > 1e-9:
            cost += handling.settle
            if a >= handling.turn_rate * handling.turn_rate / handling.turn_acceleration:
                cost += a / handling.turn_rate + handling.turn_rate / handling.turn_acceleration
            else:
                cost += 2 * math.sqrt(a / handling.turn_acceleration)
        at = headings[i]
    return cost


@inner
def _nearest(exact, steps, freedom, tried):
    """The way with every number on its nearest step, ready to try the headings and ``tried`` distances about it."""
    legs = exact.headings.size
    digits = legs + tried
    rounding = Rounding(
        np.zeros(legs, np.int64), np.zeros(legs, np.int64), np.zeros(digits, np.int64), np.zeros(digits, np.int64),
        np.zeros(legs, np.int64), np.zeros(legs, np.int64), np.zeros(legs), np.zeros(legs),
    )  # fmt: skip
    for i in range(legs):
        rounding.near_turns[i] = int(np.round((exact.headings[i] - steps.h0) / steps.turn))
        rounding.near_distances[i] = int(np.round(exact.distances[i] / steps.distance))
    if freedom.first_fixed:
        rounding.near_turns[0] = int(np.round((exact.start.h - steps.h0) / steps.turn))
    for k in range(digits):
        leg = k if k < legs else k - legs
        fixed = (k == 0 and freedom.first_fixed) or (k == legs - 1 and freedom.last_fixed)
        rounding.held[k] = 1 if fixed or leg < freedom.rigid else 0
    return rounding


@inner
def _choices(rounding, spread):
    """How many choices of digits there are."""
    total = 1
    for k in range(rounding.held.size):
        if rounding.held[k] == 0:
            total *= 2 * spread + 1
    return total


@inner
def _choose(number, rounding, steps, spread):
    """Set the digits of the numberth choice, and the headings that follow."""
    size = 2 * spread + 1
    for k in range(rounding.digits.size):
        if rounding.held[k] == 0:
            rounding.digits[k] = number % size - spread
            number //= size
    for i in range(rounding.headings.size):
        rounding.turn_steps[i] = rounding.near_turns[i] + rounding.digits[i]
        rounding.headings[i] = steps.h0 + rounding.turn_steps[i] * steps.turn


@inner
def _set_distance(rounding, steps, i, count):
    rounding.distance_steps[i] = count
    rounding.distances[i] = count * steps.distance


@inner
def _too_short(exact, rounding, i):
    """Whether a rounded leg goes the other way or is shorter than the robot can drive."""
    d = rounding.distances[i]
    return d * exact.distances[i] <= 0 or abs(d) < exact.handling.least_leg - 1e-9


@inner
def _end_of_tried(exact, rounding, tried):
    """Where the first legs lead; nan when one of them is too short."""
    x, y = exact.start.x, exact.start.y
    for i in range(tried):
        if _too_short(exact, rounding, i):
            return math.nan, math.nan
        x += rounding.distances[i] * math.cos(rounding.headings[i])
        y += rounding.distances[i] * math.sin(rounding.headings[i])
    return x, y


@inner
def _solved(headings, distance_step, dx, dy):
    """Steps (rounded down) of the last two legs, or of the only one, that lead (dx, dy) on; nan when they cannot."""
    legs = headings.size
    bx, by = math.cos(headings[legs - 1]), math.sin(headings[legs - 1])
    if legs == 1:
        return 0.0, np.floor((dx * bx + dy * by) / distance_step)
    ax, ay = math.cos(headings[legs - 2]), math.sin(headings[legs - 2])
    det = ax * by - ay * bx
    if abs(det) < 1e-3:
        return math.nan, math.nan
    return np.floor((dx * by - dy * bx) / det / distance_step), np.floor((ax * dy - ay * dx) / det / distance_step)


class _Goal(NamedTuple):
    """The goal as each trial asks for it: the push's lean (sine of its angle to the goal's line), most miss along it."""

    facing: Facing
    lean: float
    along: float


@inner
def _goal(steps, arrival):
    x, y, h = arrival.goal
    lean = math.sin(wrapped(steps.h0 + arrival.heading_step * steps.turn - h))
    return _Goal(Facing(x, y, math.cos(h), math.sin(h)), lean, max(steps.distance, 0.9 * arrival.gap))


@inner
def _score(exact, arrival, goal, rounding, x, y):
    """Seconds of a way whose last two legs begin at (x, y) and price of its miss to the side; inf when it misses."""
    legs = rounding.headings.size
    gx, gy, gc, gs = goal.facing
    ex, ey = x - gx, y - gy
    for i in range(max(legs - 2, 0), legs):
        if _too_short(exact, rounding, i):
            return math.inf
        ex += rounding.distances[i] * math.cos(rounding.headings[i])
        ey += rounding.distances[i] * math.sin(rounding.headings[i])
    lateral = ey * gc - ex * gs
    along = ex * gc + ey * gs
    ahead = arrival.reach  # what meets the target is the nose
    miss = max(abs(lateral + (ahead + arrival.gap) * goal.lean), abs(lateral + (ahead + arrival.push_leg) * goal.lean))
    if miss > arrival.lateral or abs(along) > goal.along:
        return math.inf
    side = miss / arrival.lateral
    return (
        _time(exact.handling, exact.start.h, rounding.headings, rounding.distances) + arrival.side_price * side * side
    )


@inner
def rounded_cost(task, headings, distances, final_heading, points, turns):
    """Cost of legs with exact given numbers when everything is clear, inf otherwise; fills points and turns.

    The goal's heading is replaced by ``final_heading`` (rad); a way into the base must end inside it.
    """
    legs = headings.size
    x, y = task.trip.start.x, task.trip.start.y
    for i in range(legs):
        x += distances[i] * math.cos(headings[i])
        y += distances[i] * math.sin(headings[i])
        points[i, 0], points[i, 1] = x, y
    if task.trip.into_base and not inside_base(task.homing, x, y, headings[legs - 1]):
        return math.inf
    cost = _time(task.trip.handling, task.trip.start.h, headings, distances)
    return clear_cost(
        task, Trial(points, distances, headings, headings, distances, turns), cost, math.inf, final_heading
    )


@inner
def _enlist_clear(shortlist, score, rounding, exact, final_heading, points, turns, checks):
    """As :func:`_enlist`, but only what is clear; returns how many checks are left."""
    if score >= shortlist.scores[shortlist.scores.size - 1]:
        return checks
    task = exact.task
    if rounded_cost(task, rounding.headings, rounding.distances, final_heading, points, turns) < math.inf:
        _enlist(shortlist, score, rounding)
    return checks - 1


@kernel
def round_to_goal(exact, steps, freedom, arrival, most):
    """Whole-number ways that end near the goal, best first; clearance not looked at.

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
    rounding = _nearest(exact, steps, freedom, tried)
    if freedom.last_fixed:
        rounding.near_turns[legs - 1] = arrival.heading_step
    goal = _goal(steps, arrival)
    final_heading = steps.h0 + arrival.heading_step * steps.turn
    points, turns, checks = np.zeros((legs, 2)), np.zeros(legs + 1), freedom.checks
    for number in range(_choices(rounding, freedom.spread)):
        _choose(number, rounding, steps, freedom.spread)
        for i in range(tried):
            _set_distance(rounding, steps, i, rounding.near_distances[i] + rounding.digits[legs + i])
        x, y = _end_of_tried(exact, rounding, tried)
        if math.isnan(x):
            continue
        first, second = _solved(rounding.headings, steps.distance, arrival.goal.x - x, arrival.goal.y - y)
        if math.isnan(second):
            continue
        for corner in range(2 if legs == 1 else 4):
            _set_distance(rounding, steps, legs - 1, int(second) + (corner if legs == 1 else corner // 2))
            if legs > 1:
                _set_distance(rounding, steps, legs - 2, int(first) + corner % 2)
            score = _score(exact, arrival, goal, rounding, x, y)
            if score < math.inf and freedom.checks == 0:
                _enlist(shortlist, score, rounding)
            elif score < math.inf and checks > 0:
                checks = _enlist_clear(shortlist, score, rounding, exact, final_heading, points, turns, checks)
    return _enlisted(shortlist), shortlist


@kernel
def round_into_base(exact, steps, freedom, backing, most):
    """Whole-number ways that end in the base, best first; clearance and the base itself not looked at.

    As :func:`round_to_goal`, but every leg's distance is tried about its exact number, the last one upwards only; the
    first one is at least what the robot must back off when it is ``backing``.
    """
    legs = exact.headings.size
    shortlist = _empty_shortlist(most, legs)
    rounding = _nearest(exact, steps, freedom, legs)
    handling = exact.handling
    points, turns, checks = np.zeros((legs, 2)), np.zeros(legs + 1), freedom.checks
    for i in range(legs):
        near = math.floor(abs(exact.distances[i]) / steps.distance + (0.0 if i == legs - 1 else 0.5))
        rounding.near_distances[i] = int(near) + (freedom.spread if i == legs - 1 else 0)
    for number in range(_choices(rounding, freedom.spread)):
        _choose(number, rounding, steps, freedom.spread)
        usable = True
        for i in range(legs):
            sign = 1 if exact.distances[i] > 0 else -1
            _set_distance(rounding, steps, i, sign * (rounding.near_distances[i] + rounding.digits[legs + i]))
            least = handling.least_back if i == 0 and backing else handling.least_leg
            if sign * rounding.distances[i] < least - 1e-9:
                usable = False
        if usable:
            score = _time(handling, exact.start.h, rounding.headings, rounding.distances)
            if freedom.checks == 0:
                _enlist(shortlist, score, rounding)
            elif checks > 0:
                checks = _enlist_clear(shortlist, score, rounding, exact, steps.h0, points, turns, checks)
    return _enlisted(shortlist), shortlist


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
