"""The independent judge: courses made wrong on purpose in one respect each."""

from __future__ import annotations

import math

import pytest

from motion.check import check_course
from motion.course.actions import Drive, Push, Tool, Turn
from motion.scene.records import Obstacle, Pose
from tests.motion.scenes import ROBOT, box, plain_scene
from tests.oracles.judge import judge_course

# from (120, 120, 90): up to y 600, right to (1600, 600), push, back off, turn round the left side, home
OUT = [Drive(480), Turn(-90, 0), Drive(1480)]
HOME = [Drive(-1800), Turn(90, 90), Drive(-480)]
GOOD = [*OUT, Push(90), *HOME]


def _faults(actions, scene=None, start=None):
    scene = scene or plain_scene()
    verdict = judge_course(scene, start or scene.start, actions)
    check = check_course(scene, start or scene.start, actions, quick=True)
    assert check.clear == verdict.clear
    return {(fault.action, fault.what) for fault in verdict.faults}


def test_a_good_course_is_clear_to_both_judges():
    assert _faults([*OUT, Push(90), Drive(-1570), Turn(90, 90), Drive(-480)]) == set()


def test_a_push_too_short_too_long_or_askew_is_outside_the_window():
    assert (3, "window") in _faults([*OUT, Push(60), *HOME])
    assert (3, "window") in _faults([*OUT, Push(130), *HOME])
    assert (4, "window") in _faults([*OUT, Turn(6, 6), Push(90), Turn(-6, 0), *HOME])


def test_meeting_the_target_to_the_side_of_the_window_is_found():
    scene = plain_scene(start=Pose(120, 145, 90))
    assert (3, "window") in _faults([*OUT, Push(90), *HOME], scene)


def test_backing_off_too_little_or_turning_first_is_found():
    assert (4, "back-off") in _faults([*OUT, Push(90), Drive(-30), Drive(-1770), Turn(90, 90), Drive(-480)])
    assert (4, "back-off") in _faults([*OUT, Push(90), Turn(10, 10), *HOME])


def test_ending_or_starting_outside_the_base_is_found():
    assert (5, "base") in _faults([*OUT, Push(90), Drive(-400), Turn(90, 90)])
    assert (0, "base") in _faults(GOOD, start=Pose(520, 120, 90))


def test_an_obstacle_edge_keep_out_and_the_target_are_each_named():
    post = Obstacle(box(800, 560, 50, 50), "post")
    assert (2, "obstacle") in _faults(GOOD, plain_scene(obstacles=(post,)))
    assert (2, "keep-out") in _faults(GOOD, plain_scene(keep_outs=(post,)))
    assert (0, "edge") in _faults([Drive(1000), *GOOD])
    assert (2, "target") in _faults([*OUT[:2], Drive(1600), Push(90), *HOME])


def test_the_long_way_round_is_judged_as_it_is_turned():
    post = Obstacle(box(260, 560, 40, 40), "post")  # right of the turning point: turning right sweeps it
    scene = plain_scene(obstacles=(post,), base=box(0, 0, 500, 700), start=Pose(120, 600, 100))
    right, left = [Turn(-100, 0)], [Turn(260, 360)]
    assert any(what == "obstacle" for _, what in _faults(right, scene))
    assert any(what == "obstacle" for _, what in _faults(left, scene))  # its end points at the post: no way round helps
    short = plain_scene(
        obstacles=(Obstacle(box(210, 730, 30, 30), "post"),), base=box(0, 0, 500, 900), start=Pose(220, 600, 150)
    )
    assert not any(what == "obstacle" for _, what in _faults([Turn(240, 390)], short))
    assert any(what == "obstacle" for _, what in _faults([Turn(-120, 30)], short))


def test_a_lowered_tool_makes_the_body_longer_until_it_is_raised():
    robot = dict(vars(ROBOT)) | {
        "working_footprint": (*ROBOT.footprint, ((200, -5), (225, -5), (225, 35), (200, 35))),
        "tool_seconds": 1.0,
    }
    scene = plain_scene(robot=type(ROBOT)(**robot))
    assert (2, "target") not in _faults([*OUT, Tool("lower", 1), Push(90), *HOME], scene)
    assert (3, "target") in _faults([Tool("lower", 1), *OUT[:2], Drive(1485), Push(85), *HOME], scene)


def test_what_stays_clear_forwards_stays_clear_judged_backwards():
    """The sweep of a course driven backwards is the same area: room per action must agree to the sampling."""
    scene = plain_scene(obstacles=(Obstacle(box(700, 300, 120, 200), "bank"),))
    pose, rooms = scene.start, judge_course(scene, scene.start, OUT).room_mm
    end = Pose(1600, 600, 0)
    back = [Drive(-1480), Turn(90, 90), Drive(-480)]
    assert judge_course(scene, end, back).room_mm == pytest.approx(rooms[::-1], abs=1e-6)
    assert math.isclose(pose.x_mm, 120)
