"""One phase of a course as the compiled search sees it, and what its moves cost."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner
from motion.ground.geometry import Body, Walls
from motion.ground.kernels import TWO_PI, full_circle, turn_free
from motion.ground.kernels_base import Homing

#: Headings closer than this count as equal: no turn is made (0.000001 mm over a metre).
SAME_HEADING = 1e-9


class Handling(NamedTuple):
    """How a robot drives (mm, radians, seconds): its pace, the pause after each move, and the least it can drive."""

    speed: float
    acceleration: float
    turn_rate: float
    turn_acceleration: float
    settle: float
    least_leg: float
    least_back: float


class Scatter(NamedTuple):
    """What the spread to the side at the goal costs, and how the robot errs.

    ``price`` in seconds per mm; ``turn_sd`` (rad per turn), ``drift_sd`` (rad per mm driven) and ``length_sd``
    (fraction of a leg); ``absolute_yaw``: turns undo what the heading has drifted.
    """

    price: float
    turn_sd: float
    drift_sd: float
    length_sd: float
    absolute_yaw: bool


class Stand(NamedTuple):
    """A pose: mm and radians."""

    x: float
    y: float
    h: float


class Trip(NamedTuple):
    """A task but for what is in the way: from ``start`` to ``goal``, or into the base.

    ``into_base`` ends it at the first moment that the whole body is inside the base. A trip that is ``backing`` begins
    by backing up at least ``least_back`` along the start heading.
    """

    start: Stand
    goal: Stand
    into_base: bool
    backing: bool
    handling: Handling
    scatter: Scatter


class Task(NamedTuple):
    """Find the cheapest legs and turns from a pose to a pose, or into the base (mm, radians, seconds).

    ``walls``/``body`` hold everywhere but on the first leg of a trip that is backing: that one goes under
    ``first_walls``/``first_body``, and its end must be free for both bodies under ``walls``. ``homing``: when a trip
    into the base ends. ``stop`` (1,): once it is not 0 kernels give up at once, and what they return is worth nothing.
    """

    walls: Walls
    first_walls: Walls
    body: Body
    first_body: Body
    homing: Homing
    trip: Trip
    stop: np.ndarray


@inner
def travel_seconds(distance, speed, acceleration):
    """Seconds for a distance (or angle) from rest to rest with equal acceleration and braking, without the settle."""
    d = abs(distance)
    if d == 0.0:
        return 0.0
    if d >= speed * speed / acceleration:
        return d / speed + speed / acceleration
    return 2.0 * math.sqrt(d / acceleration)


@inner
def leg_cost(handling, distance):
    """Seconds of a leg with its settle pause."""
    return travel_seconds(distance, handling.speed, handling.acceleration) + handling.settle


@inner
def turn_cost(handling, by):
    """Seconds of a turn with its settle pause; nothing for no turn."""
    if abs(by) < SAME_HEADING:
        return 0.0
    return travel_seconds(by, handling.turn_rate, handling.turn_acceleration) + handling.settle


@inner
def wrapped(angle):
    """The angle in (-pi, pi]."""
    a = full_circle(angle)
    return a - TWO_PI if a > math.pi else a


@inner
def free_turn(walls, body, x, y, heading, by):
    """The short turn if it is free, else the long way round if that is; nan when neither is."""
    if abs(by) < SAME_HEADING:
        return 0.0
    if turn_free(walls, body, x, y, heading, by):
        return by
    long_way = by - TWO_PI if by > 0 else by + TWO_PI
    if turn_free(walls, body, x, y, heading, long_way):
        return long_way
    return math.nan


@inner
def next_random(state):
    """A uniform number in [0, 1) from a 64-bit xorshift state (1,) that it advances."""
    v = state[0]
    v ^= v << 13
    v ^= v >> 7
    v ^= v << 17
    state[0] = v
    return (v >> 11) * (1.0 / 9007199254740992.0)
