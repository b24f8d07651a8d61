"""Courses without what they can do without."""

from __future__ import annotations

from dataclasses import replace

import pytest

from motion.check import check_course
from motion.course.actions import Drive, Push, Turn
from motion.ground.clearance import poses_of
from motion.scene.example import example_scene
from motion.scene.records import Obstacle, Pose
from motion.search.parts import Part, PartFinder
from motion.search.paths import Way
from motion.search.tidy import Tidier, simpler
from motion.search.wholes import Whole
from tests.motion.scenes import box

NO_WAY = Way(0.0, (), (), (), (), 0.0)


def whole_of(scene, actions):
    at = next(i for i, action in enumerate(actions) if isinstance(action, Push)) + 1
    poses = poses_of(scene.start, actions)
    out = Part(scene.start, tuple(actions[:at]), poses[at], 0.0, NO_WAY)
    return Whole(out, Part(poses[at], tuple(actions[at:]), poses[-1], 0.0, NO_WAY))


def tidied(scene, actions, exact=True):
    return Tidier(PartFinder(scene, exact=exact, seed=0, tick=lambda: None)).tidied(whole_of(scene, actions)).actions


@pytest.mark.parametrize("exact", [True, False])
def test_straight_home_in_two_legs_becomes_one(exact):
    scene = example_scene()
    course = (Drive(900), Push(100), Drive(-780), Drive(-40))
    assert check_course(scene, scene.start, course, quick=True).clear
    assert tidied(scene, course, exact) == (Drive(900), Push(100), Drive(-820))


def test_a_bend_that_nothing_asks_for_becomes_one_straight_leg():
    scene = example_scene()
    bend = (Turn(10, 10), Drive(300), Turn(-20, -10), Drive(300), Turn(10, 0))
    course = (*bend, Drive(900 - 2 * 300 * 0.984807753012208), Push(100), Drive(-820))
    assert check_course(scene, scene.start, course, quick=True).clear
    shorter = tidied(scene, course)
    assert [action.do for action in shorter] == ["drive", "push", "drive"]
    assert shorter[0].distance_mm == pytest.approx(900)


def test_a_bend_around_something_stays():
    scene = example_scene()
    blocked = Obstacle(box(400, 190, 60, 80), "post")
    scene = replace(scene, obstacles=(blocked,), start=Pose(150, 420, 0), base=box(0, 0, 300, 500))
    legs = (Drive(600), Turn(-45, -45), Drive(240.4163056), Turn(45, 0), Drive(130), Push(100), Drive(-40))
    course = (*legs, Turn(90, 90), Drive(170), Turn(-90, 0), Drive(-970))
    before = check_course(scene, scene.start, course, quick=True)
    assert before.clear, before.touches
    after = tidied(scene, course)
    assert check_course(scene, scene.start, after, quick=True).clear
    assert not [shorter for shorter in simpler(scene.start, after, 0.0)
                if check_course(scene, scene.start, shorter, quick=True).clear
                and check_course(scene, scene.start, shorter, quick=True).duration_s
                <= check_course(scene, scene.start, after, quick=True).duration_s]  # fmt: skip


def test_turns_of_next_to_nothing_and_legs_of_a_hair_go():
    scene = example_scene()
    course = (Turn(0.05, 0.05), Drive(900), Push(100), Drive(-820), Turn(0.02, 0.07), Drive(0.4))
    out, push, home = tidied(scene, course)
    assert (out, push) == (Drive(900), Push(100))
    assert home.distance_mm == pytest.approx(-820, abs=0.5)


def test_what_is_left_out_is_turned_by_the_next_turn():
    found = list(simpler(Pose(0, 0, 0), (Turn(0.05, 0.05), Drive(300), Turn(30, 30.05), Push(50)), 0.0))
    assert (Drive(300), Turn(30.05, 30.05), Push(50)) in found


def test_in_whole_steps_no_leg_gets_a_heading_that_cannot_be_set():
    course = (Drive(300), Turn(10, 10), Drive(300), Turn(-10, 0), Push(50))
    assert list(simpler(Pose(0, 0, 0), course, 1.0)) == []
    assert list(simpler(Pose(0, 0, 0), course, 0.0)) != []
