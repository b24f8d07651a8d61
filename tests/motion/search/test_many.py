"""Courses over several targets: clear to both judges, in the order asked for, and the order of less time when it is free."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from motion.course.actions import Push, Tool
from motion.errors import CancelledError, NoCourseError
from motion.ground.errands import errands_of
from motion.scene.checks import scene_problems
from motion.scene.records import Obstacle, Scene
from motion.search.orders import least_to_come, possible_orders
from motion.search.plan import plan_courses
from tests.motion.scenes import ROBOT, box, many_scene, target_at
from tests.oracles.judge import judge_course


def _order(scene: Scene, course) -> list[int]:
    return [errand.target for errand in errands_of(scene, course.start, course.actions)]


def _clear_to_both(scene: Scene, course) -> bool:
    verdict = judge_course(scene, course.start, course.actions)
    assert verdict.clear, verdict.faults
    return course.check.clear


@pytest.mark.parametrize("count", [2, 3])
@pytest.mark.parametrize("exact", [True, False])
@pytest.mark.parametrize("any_order", [True, False])
def test_the_fastest_course_is_clear_to_both_judges(count, exact, any_order):
    scene = many_scene(count, any_order=any_order)
    course = plan_courses(scene, "fastest", exact=exact)[0]
    assert _clear_to_both(scene, course)
    assert sum(isinstance(action, Push) for action in course.actions) == count
    assert sorted(_order(scene, course)) == list(range(count))
    if not any_order:
        assert _order(scene, course) == list(range(count))


def test_in_any_order_the_course_is_that_of_the_best_given_order():
    scene = many_scene(3, any_order=True)
    free = plan_courses(scene, "fastest", exact=True)[0]
    best = {}
    for order in itertools.permutations(range(3)):
        first, *more = (scene.targets[i] for i in order)
        given = replace(scene, target=first, more_targets=tuple(more), any_order=False)
        best[order] = plan_courses(given, "fastest", exact=True)[0].check.duration_s
    assert free.check.duration_s == pytest.approx(min(best.values()), rel=1e-6)
    assert tuple(_order(scene, free)) == min(best, key=best.__getitem__)
    assert max(best.values()) > 1.05 * min(best.values())  # or the order would not matter here


def test_what_is_still_to_come_is_never_more_than_it_takes():
    scene = many_scene(3)
    seconds = plan_courses(scene, "fastest", exact=True)[0].check.duration_s
    bounds = least_to_come(scene, (0, 1, 2))
    assert sorted(bounds, reverse=True) == bounds
    assert bounds[0] < seconds


@pytest.mark.parametrize("exact", [True, False])
def test_all_aims_are_clear_and_the_steadiest_works_most_often(exact):
    scene = many_scene(2, any_order=True)
    courses = {course.aim: course for course in plan_courses(scene, "all", exact=exact)}
    assert all(_clear_to_both(scene, course) for course in courses.values())
    chance = {aim: course.check.success.probability for aim, course in courses.items()}
    assert chance["steadiest"] >= chance["fastest"] - 0.01
    assert courses["fastest"].check.duration_s <= courses["steadiest"].check.duration_s + 1e-6
    moves = {aim: sum(not isinstance(a, Tool) for a in course.actions) for aim, course in courses.items()}
    assert moves["simplest"] == min(moves.values())
    assert courses["fastest"].check.duration_s <= courses["simplest"].check.duration_s + 1e-6


def test_rounded_numbers_are_on_the_robot_s_steps_through_all_errands():
    scene = many_scene(3, robot=replace(ROBOT, min_back_off_mm=45))
    course = plan_courses(scene, "fastest")[0]
    assert _clear_to_both(scene, course)
    for action in course.actions:
        size, step = (action.by_deg, 1) if action.do == "turn" else (action.distance_mm, 10)
        assert abs(size / step - round(size / step)) < 1e-6


def test_a_tool_is_raised_after_each_back_off_and_lowered_before_each_push():
    working = (*ROBOT.footprint, ((-50, 75), (100, 75), (100, 95), (-50, 95)))
    scene = many_scene(2, robot=replace(ROBOT, working_footprint=working, tool_seconds=1.5))
    for exact in (True, False):
        course = plan_courses(scene, "fastest", exact=exact)[0]
        assert _clear_to_both(scene, course)
        kinds = [a.name if isinstance(a, Tool) else a.do for a in course.actions]
        for push in (i for i, kind in enumerate(kinds) if kind == "push"):
            assert "lower" in kinds[push - 2 : push]
            assert kinds[push + 1 : push + 3] == ["drive", "raise"]


def test_an_open_start_is_chosen_inside_the_base():
    scene = many_scene(2, start=None, any_order=True)
    course = plan_courses(scene, "fastest")[0]
    assert _clear_to_both(scene, course)


def test_an_order_that_pushes_one_into_another_is_not_taken():
    scene = many_scene(2)
    ahead = target_at(1720, 700, 90, name="crate")  # stands where the bell is pushed to, and goes up out of its way
    scene = replace(scene, more_targets=(replace(ahead, precontact=replace(ahead.precontact, y_mm=430),
                    body=box(1900, 660, 60, 60)),), obstacles=(), any_order=True)  # fmt: skip
    scene = replace(scene, more_targets=(replace(scene.more_targets[0], push_mm=200),))
    assert not scene_problems(scene)
    assert possible_orders(scene) == [(1, 0)]
    with pytest.raises(NoCourseError, match="Pushed as it should be, the fog bell runs into the crate"):
        plan_courses(replace(scene, any_order=False), "fastest")


def test_no_way_to_the_second_target_is_said_with_its_name():
    walled = (Obstacle(box(640, 560, 30, 640), "weir"), Obstacle(box(1150, 560, 30, 640), "groyne"),
              Obstacle(box(640, 540, 540, 20), "sill"))  # fmt: skip
    scene = many_scene(2, obstacles=walled)
    with pytest.raises(NoCourseError) as caught:
        plan_courses(scene, "fastest")
    assert caught.value.message.startswith("On the way to the crate from the fog bell: ")


def test_stopping_is_heard_between_phases():
    calls = iter([False, False, True])
    with pytest.raises(CancelledError):
        plan_courses(many_scene(2), "fastest", cancelled=lambda: next(calls, True))
