"""Times of moves, by the trapezoidal speed profile."""

from __future__ import annotations

import pytest

from motion.course.actions import Drive, Push, Tool, Turn
from motion.course.times import action_seconds, course_seconds, move_seconds
from tests.motion.scenes import ROBOT
from tests.published import published_cases


@pytest.mark.parametrize("case", published_cases("speed_profile"))
@pytest.mark.parametrize("way", [1, -1], ids=["ahead", "back"])
def test_a_move_takes_what_the_trapezoid_says(case, way):
    given = case.given
    seconds = move_seconds(way * given["distance"], given["speed"], given["acceleration"], given.get("deceleration"))
    assert seconds == case["seconds"]


def test_no_move_takes_no_time():
    assert move_seconds(0, 300, 500, None) == 0


def test_a_turn_or_leg_of_nothing_takes_no_time_and_every_other_one_settles():
    assert action_seconds(ROBOT, Turn(0, 0)) == 0
    assert action_seconds(ROBOT, Drive(0)) == 0
    assert action_seconds(ROBOT, Turn(45, 45)) == pytest.approx(0.6 + 0.25)


def test_a_course_is_timed_before_and_after_its_push():
    total, out, home = course_seconds(ROBOT, [Drive(500), Push(90), Tool("wait", 2), Drive(-500)])
    assert out == pytest.approx(500 / 250 + 0.5 + 0.25)
    assert home == pytest.approx(out + 2)
    assert total - out - home == pytest.approx(90 / 120 + 120 / 500 + 0.25)
