"""One phase of a course as the compiled search sees it, and what its moves cost."""

from __future__ import annotations

import math
from typing import NamedTuple

from numba import njit

from motion.ground.geometry import Body, Walls
from motion.ground.kernels import TWO_PI, full_circle, travel_seconds, turn_free

#: Headings closer than this count as equal: no turn is made (0.000001 mm over a metre).
SAME_HEADING = 1e-9


class Task(NamedTuple):
    """Find the cheapest legs and turns from a pose to a pose, or into the base (mm, radians, seconds).

    ``walls``/``body`` hold everywhere but on the first leg of a task that is ``backing``: that one backs up at least
    ``least_back`` along the start heading under ``first_walls``/``first_body``, and its end must be free for both
    bodies under ``walls``. ``into_base`` ends a task at the first moment the whole ``base_body`` is inside ``base``;
    otherwise it ends at the pose (``gx``, ``gy``, ``gh``).
    ``spread_price`` (seconds per mm) makes the spread to the side at the goal cost something; then ``turn_sd`` (rad
    per turn), ``drift_sd`` (rad per mm driven) and ``length_sd`` (fraction of a leg) say how the robot errs.
    """

    walls: Walls
    first_walls: Walls
    body: Body
    first_body: Body
    base: Walls
    base_body: Body
    base_convex: bool
    x: float
    y: float
    h: float
    gx: float
    gy: float
    gh: float
    into_base: bool
    backing: bool
    speed: float
    acceleration: float
    turn_rate: float
    turn_acceleration: float
    settle: float
    turn_price: float
    least_leg: float
    least_back: float
    spread_price: float
    turn_sd: float
    drift_sd: float
    length_sd: float
    absolute_yaw: bool


@njit(cache=True)
def leg_cost(task, distance):
    """Seconds of a leg with its settle pause."""
    return travel_seconds(distance, task.speed, task.acceleration) + task.settle


@njit(cache=True)
def turn_cost(task, by):
    """Seconds of a turn with its settle pause; nothing for no turn."""
    if abs(by) < SAME_HEADING:
        return 0.0
    return travel_seconds(by, task.turn_rate, task.turn_acceleration) + task.settle + task.turn_price


@njit(cache=True)
def side_spread(task, legs, points, headings, distances):
    """Standard deviation (mm) to the side at the goal that the course's own legs and turns add, to first order.

    What every course to this goal shares (start pose, common scale) is left out: (E - P_1) is the same for all.
    """
    gc, gs = math.cos(task.gh), math.sin(task.gh)
    variance = 0.0
    for i in range(legs):
        d = distances[i]
        along = d * math.cos(headings[i] - task.gh)
        aside = d * math.sin(headings[i] - task.gh)
        drift = 0.5 * task.drift_sd * d
        variance += (task.length_sd * aside) ** 2 + (drift * along) ** 2
        if task.absolute_yaw:
            arm = along
        else:  # a turn's error carries on to the end
            px = task.x if i == 0 else points[i - 1, 0]
            py = task.y if i == 0 else points[i - 1, 1]
            arm = (task.gx - px) * gc + (task.gy - py) * gs
        variance += (task.turn_sd * arm) ** 2
    return math.sqrt(variance)


@njit(cache=True)
def wrapped(angle):
    """The angle in (-pi, pi]."""
    a = full_circle(angle)
    return a - TWO_PI if a > math.pi else a


@njit(cache=True)
def free_turn(task, x, y, heading, by):
    """The short turn if it is free, else the long way round if that is; nan when neither is."""
    if abs(by) < SAME_HEADING:
        return 0.0
    if turn_free(task.walls, task.body, x, y, heading, by):
        return by
    long_way = by - TWO_PI if by > 0 else by + TWO_PI
    if turn_free(task.walls, task.body, x, y, heading, long_way):
        return long_way
    return math.nan


@njit(cache=True)
def next_random(state):
    """A uniform number in [0, 1) from a 64-bit xorshift state (1,) that it advances."""
    v = state[0]
    v ^= v << 13
    v ^= v >> 7
    v ^= v << 17
    state[0] = v
    return (v >> 11) * (1.0 / 9007199254740992.0)
