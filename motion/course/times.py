"""How long moves take: trapezoidal speed profiles and the time of a course."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from motion.course.actions import Action, Push, Tool, Turn
from motion.scene.records import RobotSpec


def move_seconds(distance: float, speed: float, acceleration: float, deceleration: float | None = None) -> float:
    """Seconds to cover a distance (or an angle) from rest to rest under a trapezoidal speed profile.

    Parameters
    ----------
    distance
        Any sign, in mm or degrees; zero takes no time.
    speed, acceleration, deceleration
        Positive, in the same unit per second and per second squared; braking equals ``acceleration`` when not given.

    Examples
    --------
    >>> round(move_seconds(1000, 300, 500), 6)
    3.933333
    >>> round(move_seconds(100, 300, 500), 6)
    0.894427
    """
    d = abs(distance)
    if d == 0:
        return 0.0
    a = acceleration
    b = acceleration if deceleration is None else deceleration
    ramps = 1 / a + 1 / b
    if d >= speed * speed * ramps / 2:
        return d / speed + speed * ramps / 2
    return math.sqrt(2 * d * ramps)


@dataclass(frozen=True)
class Pacing:
    """How one action goes by: as long to gain speed as to lose it, at full speed between, then at rest (all in s).

    A tool action only rests.
    """

    ramp_s: float
    cruise_s: float
    rest_s: float

    @property
    def seconds(self) -> float:
        return 2 * self.ramp_s + self.cruise_s + self.rest_s

    def share(self, seconds: float) -> float:
        """How much of the turn or leg is done so long after it began, 0 to 1.

        >>> pacing = Pacing(1.0, 2.0, 0.5)
        >>> [round(pacing.share(t), 3) for t in (0, 1, 2, 3, 4, 4.5)]
        [0.0, 0.167, 0.5, 0.833, 1.0, 1.0]
        """
        moving = 2 * self.ramp_s + self.cruise_s
        if seconds >= moving:
            return 1.0
        top = 1.0 / (self.ramp_s + self.cruise_s)  # full speed, in shares a second
        if seconds < self.ramp_s:
            return top * seconds**2 / (2 * self.ramp_s)
        if seconds <= self.ramp_s + self.cruise_s:
            return top * (seconds - self.ramp_s / 2)
        return 1.0 - top * (moving - seconds) ** 2 / (2 * self.ramp_s)


def pacing_of(robot: RobotSpec, action: Action) -> Pacing:
    """How an action goes by; it takes as long as :func:`action_seconds` says.

    >>> from motion.course.actions import Drive
    >>> from motion.scene.example import example_scene
    >>> pacing = pacing_of(example_scene().robot, Drive(900))
    >>> round(pacing.ramp_s, 6), round(pacing.cruise_s, 6), round(pacing.seconds, 6)
    (0.5, 3.1, 4.6)
    """
    whole = action_seconds(robot, action)
    if isinstance(action, Tool):
        return Pacing(0.0, 0.0, whole)
    if isinstance(action, Turn):
        amount, speed, acceleration = action.by_deg, robot.turn_rate_deg_s, robot.turn_acceleration_deg_s2
    else:
        speed = robot.push_speed_mm_s if isinstance(action, Push) else robot.speed_mm_s
        amount, acceleration = action.distance_mm, robot.acceleration_mm_s2
    ramp = min(speed / acceleration, math.sqrt(abs(amount) / acceleration))
    moving = move_seconds(amount, speed, acceleration)
    return Pacing(ramp, max(0.0, moving - 2 * ramp), whole - moving)


def action_seconds(robot: RobotSpec, action: Action) -> float:
    """Seconds one action takes, with the settle pause after a turn or leg; a zero move takes none.

    Examples
    --------
    900 mm at 250 mm/s take 3.6 s, starting and stopping 0.5 s more, coming to rest another 0.5 s.

    >>> from motion.course.actions import Drive
    >>> from motion.scene.example import example_scene
    >>> round(action_seconds(example_scene().robot, Drive(900)), 6)
    4.6
    """
    if isinstance(action, Tool):
        return action.seconds
    if isinstance(action, Turn):
        moving = move_seconds(action.by_deg, robot.turn_rate_deg_s, robot.turn_acceleration_deg_s2)
    else:
        speed = robot.push_speed_mm_s if isinstance(action, Push) else robot.speed_mm_s
        moving = move_seconds(action.distance_mm, speed, robot.acceleration_mm_s2)
    return moving + robot.settle_s if moving > 0 else 0.0


def course_seconds(robot: RobotSpec, actions: Sequence[Action]) -> tuple[float, float, float]:
    """Seconds of a course: all of it, before the first push, and after the last push.

    Examples
    --------
    Out in 4.6 s, the push in 1.7 s, back in 5 s; a course without a push is all on the way out.

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> robot, actions = example_scene().robot, example_course()
    >>> [round(seconds, 6) for seconds in course_seconds(robot, actions)]
    [11.3, 4.6, 5.0]
    >>> [round(seconds, 6) for seconds in course_seconds(robot, actions[:1])]
    [4.6, 4.6, 0.0]
    """
    before = middle = after = 0.0
    seen = False
    for action in actions:
        seconds = action_seconds(robot, action)
        if isinstance(action, Push):
            seen = True
            middle += after + seconds
            after = 0.0
        elif seen:
            after += seconds
        else:
            before += seconds
    return before + middle + after, before, after
