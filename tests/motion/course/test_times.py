"""Times of moves. Values: trapezoidal speed profile, derived for this project from the textbook formulas (memory)."""

from __future__ import annotations

import pytest

from motion.course.actions import Drive, Push, Tool, Turn
from motion.course.times import action_seconds, course_seconds, move_seconds
from tests.motion.scenes import ROBOT


@pytest.mark.parametrize(
    ("distance", "speed", "acceleration", "deceleration", "seconds"),
    [
        (1000, 300, 500, None, 3.933333333),
        (100, 300, 500, None, 0.894427191),
        (180, 300, 500, None, 1.2),
        (600, 250, 400, 800, 2.86875),
        (90, 180, 360, None, 1.0),
        (-1000, 300, 500, None, 3.933333333),
        (0, 300, 500, None, 0.0),
    ],
)
def test_a_move_takes_what_the_trapezoid_says(distance, speed, acceleration, deceleration, seconds):
    assert move_seconds(distance, speed, acceleration, deceleration) == pytest.approx(seconds, abs=1e-9)


def test_a_turn_or_leg_of_nothing_takes_no_time_and_every_other_one_settles():
    assert action_seconds(ROBOT, Turn(0, 0)) == 0
    assert action_seconds(ROBOT, Drive(0)) == 0
    assert action_seconds(ROBOT, Turn(45, 45)) == pytest.approx(0.6 + 0.25)


def test_a_course_is_timed_before_and_after_its_push():
    total, out, home = course_seconds(ROBOT, [Drive(500), Push(90), Tool("wait", 2), Drive(-500)])
    assert out == pytest.approx(500 / 250 + 0.5 + 0.25)
    assert home == pytest.approx(out + 2)
    assert total - out - home == pytest.approx(90 / 120 + 120 / 500 + 0.25)
