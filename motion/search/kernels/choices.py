"""The choices of whole steps about a way's exact numbers, compiled: what each leg and turn comes to, worked out once.

Choices are gone through as a tree, leg by leg, the nearest steps first. What the first legs lead to and take holds for
every choice that begins with them; a beginning that is too slow or meets something is left with all that would follow.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner, inner_maker
from motion.search.kernels.task import Handling, Stand, Task, free_turn, leg_cost, turn_cost, wrapped
from motion.search.kernels.trial import leg_clear


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
    ``spread``: how many steps either side of the exact number are tried. ``checks``: how many legs and turns are tested
    for clearance at most; what was found by then counts.
    """

    first_fixed: bool
    last_fixed: bool
    spread: int
    checks: int


class Choices(NamedTuple):
    """What may be chosen for each of K legs, S choices each, the nearest steps first.

    ``turns``, ``lengths`` (K,): how many headings and distances are tried. ``turn_steps``, ``distance_steps`` (K, S):
    their step counts. ``heading``, ``cosine``, ``sine`` (K, S) and ``distance`` (K, S) in rad and mm; ``leg_s`` (K, S)
    seconds of the legs, ``turn_s`` (K, S, S) of the turns before them from each heading of the leg before;
    ``least_s`` (K + 1,): no choice from this leg on takes less.
    """

    turns: np.ndarray
    lengths: np.ndarray
    turn_steps: np.ndarray
    distance_steps: np.ndarray
    heading: np.ndarray
    cosine: np.ndarray
    sine: np.ndarray
    distance: np.ndarray
    leg_s: np.ndarray
    turn_s: np.ndarray
    least_s: np.ndarray


class Walk(NamedTuple):
    """The choices so far, going down the tree.

    ``at`` (K,): the choice of each leg, its heading before its distance. ``x``, ``y``, ``spent`` (K + 1,): where that
    leads (mm), and its seconds. ``round_s`` (K,): what turning the long way round before a leg adds, inf when neither
    way is free. ``checks`` (1,): how many more legs and turns may be tested. ``turn_steps``, ``distance_steps`` (K,):
    what was chosen.
    """

    at: np.ndarray
    x: np.ndarray
    y: np.ndarray
    spent: np.ndarray
    round_s: np.ndarray
    checks: np.ndarray
    turn_steps: np.ndarray
    distance_steps: np.ndarray


#: The four directions in which a base is looked at as a box.
_WAYS = ((-1.0, 0.0), (0.0, -1.0), (1.0, 0.0), (0.0, 1.0))
#: What rounding noise may take from a bound of where legs lead, mm.
REACH_DUST_MM = 1e-6


@inner
def _off(number):
    """The steps to go from the nearest one, in the order 0, -1, 1, -2, 2 and so on."""
    return -(number + 1) // 2 if number % 2 == 1 else number // 2


@inner_maker
def choices_of(exact, steps, freedom, near_turns, near_distances, tried):
    """The choices about the nearest steps (K,) of headings and distances; distances of the first ``tried`` legs only."""
    legs, size = exact.headings.size, 2 * freedom.spread + 1
    choices = Choices(
        np.zeros(legs, np.int64), np.zeros(legs, np.int64), np.zeros((legs, size), np.int64),
        np.zeros((legs, size), np.int64), np.zeros((legs, size)), np.zeros((legs, size)), np.zeros((legs, size)),
        np.zeros((legs, size)), np.zeros((legs, size)), np.zeros((legs, size, size)), np.zeros(legs + 1),
    )  # fmt: skip
    for i in range(legs):
        fixed = (i == 0 and freedom.first_fixed) or (i == legs - 1 and freedom.last_fixed)
        choices.turns[i] = 1 if fixed else size
        choices.lengths[i] = size if i < tried else 1
        for n in range(size):
            choices.turn_steps[i, n] = near_turns[i] + _off(n)
            choices.distance_steps[i, n] = near_distances[i] + _off(n)
            heading = steps.h0 + choices.turn_steps[i, n] * steps.turn
            choices.heading[i, n] = heading
            choices.cosine[i, n], choices.sine[i, n] = math.cos(heading), math.sin(heading)
            choices.distance[i, n] = choices.distance_steps[i, n] * steps.distance
            choices.leg_s[i, n] = leg_cost(exact.handling, choices.distance[i, n])
    _time_turns(exact, choices, tried)
    return choices


@inner
def _time_turns(exact, choices, tried):
    """Fill in the seconds of turns, and the least of what is left."""
    for i in range(exact.headings.size - 1, -1, -1):
        least_turn = math.inf
        for b in range(choices.turns[i]):
            for a in range(1 if i == 0 else choices.turns[i - 1]):
                before = exact.start.h if i == 0 else choices.heading[i - 1, a]
                seconds = turn_cost(exact.handling, wrapped(choices.heading[i, b] - before))
                choices.turn_s[i, a, b] = seconds
                least_turn = min(least_turn, seconds)
        least_leg = exact.handling.settle
        if i < tried:
            least_leg = math.inf
            for n in range(choices.lengths[i]):
                least_leg = min(least_leg, choices.leg_s[i, n])
        choices.least_s[i] = choices.least_s[i + 1] + least_turn + least_leg


@inner_maker
def reach_home(exact, choices):
    """How far the legs from each on may lead at most, with how far the body then sticks out at least (mm), (K + 1, 4).

    To the left, down, right and up: a walk that cannot get that far into the box around the base ends in nothing.
    """
    legs = exact.headings.size
    reach = np.zeros((legs + 1, 4))
    for way in range(4):
        nx, ny = _WAYS[way]
        least = math.inf
        for b in range(choices.turns[legs - 1]):
            c, s = choices.cosine[legs - 1, b], choices.sine[legs - 1, b]
            out = -math.inf
            for corner in exact.task.homing.body.sides:
                out = max(out, nx * (c * corner.ax - s * corner.ay) + ny * (s * corner.ax + c * corner.ay))
            least = min(least, out)
        reach[legs, way] = -least
        for i in range(legs - 1, -1, -1):
            most = -math.inf
            for b in range(choices.turns[i]):
                along = nx * choices.cosine[i, b] + ny * choices.sine[i, b]
                for n in range(choices.lengths[i]):
                    most = max(most, -along * choices.distance[i, n])
            reach[i, way] = reach[i + 1, way] + most
    return reach


@inner_maker
def base_box(homing):
    """The box around the base: how far it goes to the left, down, right and up (mm), each counted that way."""
    box = np.full(4, -math.inf)
    for way in range(4):
        nx, ny = _WAYS[way]
        for side in homing.base:
            box[way] = max(box[way], nx * side.ax + ny * side.ay)
    return box


@inner
def within_reach(walk, i, reach, box):
    """Whether the legs from leg i on may still take the body into the box around the base."""
    for way in range(4):
        nx, ny = _WAYS[way]
        if nx * walk.x[i] + ny * walk.y[i] - reach[i, way] > box[way] + REACH_DUST_MM:
            return False
    return True


@inner
def heading_within_reach(choices, walk, i, reach, box):
    """Whether leg i, at the heading that ``walk.at`` says and of any length tried, may still take the body there."""
    b = walk.at[i] // choices.lengths[i]
    for way in range(4):
        nx, ny = _WAYS[way]
        along, least = nx * choices.cosine[i, b] + ny * choices.sine[i, b], math.inf
        for n in range(choices.lengths[i]):
            least = min(least, along * choices.distance[i, n])
        if nx * walk.x[i] + ny * walk.y[i] + least - reach[i + 1, way] > box[way] + REACH_DUST_MM:
            return False
    return True


@inner_maker
def walk_from(exact, checks):
    """Nothing chosen yet."""
    legs = exact.headings.size
    walk = Walk(
        np.zeros(legs, np.int64), np.zeros(legs + 1), np.zeros(legs + 1), np.zeros(legs + 1), np.zeros(legs),
        np.zeros(1, np.int64), np.zeros(legs, np.int64), np.zeros(legs, np.int64),
    )  # fmt: skip
    walk.x[0], walk.y[0], walk.checks[0] = exact.start.x, exact.start.y, checks
    if legs > 0:
        walk.at[0] = -1
    return walk


@inner
def end_of_leg_clear(task, walk, i, heading, distance):
    """Whether leg i is clear, from where the walk is before it to where it is after it."""
    walk.checks[0] -= 1
    return leg_clear(task, i == 0, walk.x[i], walk.y[i], heading, distance, walk.x[i + 1], walk.y[i + 1])


@inner
def walking_on(task, walk):
    """Whether more may be tried: not told to stop, and not out of checks."""
    return task.stop[0] == 0 and walk.checks[0] > 0


@inner
def long_way_s(task, walk, i, before, heading):
    """What the free way round of the turn before leg i adds to the short one's seconds, inf when neither is free."""
    walk.checks[0] -= 1
    short = wrapped(heading - before)
    by = free_turn(task.walls, task.body, walk.x[i], walk.y[i], before, short)
    if math.isnan(by) or (i == 0 and task.trip.backing and by != 0.0):
        return math.inf
    return turn_cost(task.trip.handling, by) - turn_cost(task.trip.handling, short)


@inner
def take_leg(exact, choices, walk, i, limit):
    """Take leg i as ``walk.at`` says; whether it may be so, what it meets not looked at but in its turn.

    When its heading may not be, its other distances are passed.
    """
    a, b = 0 if i == 0 else walk.at[i - 1] // choices.lengths[i - 1], walk.at[i] // choices.lengths[i]
    n = walk.at[i] % choices.lengths[i]
    if n == 0:
        before = exact.start.h if i == 0 else choices.heading[i - 1, a]
        walk.round_s[i] = long_way_s(exact.task, walk, i, before, choices.heading[i, b])
        if walk.round_s[i] == math.inf:
            walk.at[i] += choices.lengths[i] - 1
            return False
    d, handling = choices.distance[i, n], exact.handling
    least = handling.least_back if i == 0 and exact.task.trip.backing else handling.least_leg
    if d * exact.distances[i] <= 0 or abs(d) < least - 1e-9:
        return False
    spent = walk.spent[i] + choices.turn_s[i, a, b] + walk.round_s[i] + choices.leg_s[i, n]
    if spent + choices.least_s[i + 1] >= limit:
        return False
    c, s = choices.cosine[i, b], choices.sine[i, b]
    walk.x[i + 1], walk.y[i + 1], walk.spent[i + 1] = walk.x[i] + d * c, walk.y[i] + d * s, spent
    walk.turn_steps[i], walk.distance_steps[i] = choices.turn_steps[i, b], choices.distance_steps[i, n]
    return True


@inner
def taken_leg_clear(exact, choices, walk, i):
    """Whether leg i, as it was taken, is clear."""
    b, n = walk.at[i] // choices.lengths[i], walk.at[i] % choices.lengths[i]
    return end_of_leg_clear(exact.task, walk, i, choices.heading[i, b], choices.distance[i, n])
