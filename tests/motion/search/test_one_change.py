"""The one step at fault: what it says puts the course right, and nothing else is blamed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from motion.check import check_course
from motion.course.actions import Drive, Push, Turn
from motion.scene.records import Obstacle
from motion.search.one_change import OneChange, changed_by, one_change
from tests.motion.test_check import EMPTY, GOOD, START


def found(actions):
    return one_change(EMPTY, START, actions, check_course(EMPTY, START, actions, quick=True))


@pytest.mark.parametrize(
    ("step", "wrong"),
    [(0, Turn(60, 60)), (1, Drive(700)), (1, Drive(350)), (2, Turn(-33, 12)), (3, Drive(1100)), (4, Push(60))],
    ids=["first turn", "leg too long", "leg too short", "turn before the push", "run-up", "push"],
)
def test_whatever_is_changed_meets_the_window_again(step, wrong):
    spoilt = tuple(wrong if i == step else action for i, action in enumerate(GOOD))
    assert "window" in {touch.what for touch in check_course(EMPTY, START, spoilt, quick=True).touches}
    change = found(spoilt)
    assert change is not None
    mended = check_course(EMPTY, START, changed_by(START, spoilt, change), quick=True)
    assert "window" not in {touch.what for touch in mended.touches}


def test_a_leg_that_is_too_long_is_the_leg_that_is_named():
    spoilt = (*GOOD[:1], Drive(620), *GOOD[2:])
    assert found(spoilt).action == 1


def test_no_smaller_whole_step_of_the_same_number_would_do():
    spoilt = (*GOOD[:4], Push(50), *GOOD[5:])
    change = found(spoilt)
    assert change.action == 4
    less = changed_by(START, spoilt, OneChange(4, change.by - EMPTY.robot.distance_step_mm))
    assert "window" in {touch.what for touch in check_course(EMPTY, START, less, quick=True).touches}


def test_two_faults_have_no_single_step():
    assert found((Turn(60, 60), Drive(530), Turn(-30, 30), *GOOD[3:])) is None


def test_a_change_that_would_run_into_something_is_not_proposed():
    spoilt = (*GOOD[:4], Push(50), *GOOD[5:])
    stands = check_course(EMPTY, START, spoilt, quick=True).poses[5]
    nose = max(x for part in EMPTY.robot.footprint for x, _ in part)
    wall = stands.x_mm + nose + EMPTY.margin_mm + 2  # just beyond the nose at the end of the short push
    walled = replace(EMPTY, obstacles=(Obstacle(((wall, 560), (wall + 20, 560), (wall + 20, 680), (wall, 680))),))
    check = check_course(walled, START, spoilt, quick=True)
    assert [touch.what for touch in check.touches if touch.action <= 4] == ["window"]
    assert one_change(walled, START, spoilt, check) is None
