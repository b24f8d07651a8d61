"""No aim is beaten at its own aim by a course that the planner knows; how far courses push."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import pytest

from benchmarks.random_scenes import random_scene
from motion.chance.landing import miss
from motion.check import check_course
from motion.course.actions import Turn
from motion.ground.clearance import poses_of
from motion.scene.records import Obstacle, Window
from motion.search.parts import Part, PartFinder
from motion.search.phases import Caution
from motion.search.plan import plan_courses
from motion.search.pool import HARDLY, Pool, exact_push_over
from motion.search.tidy import simpler
from tests.motion.scenes import box, plain_scene
from tests.oracles.judge import judge_course

BANK = Obstacle(box(700, 250, 300, 400), "gravel bank")


@lru_cache(maxsize=16)
def _courses(number, step, exact):
    return plan_courses(random_scene(number, step), "all", exact=exact)


@pytest.mark.slow
@pytest.mark.parametrize("number", [0, 2])
def test_no_aim_is_beaten_at_its_own_aim_by_another_aim_or_coarser_steps(number):
    """Fastest and simplest give up half a percent of their time to be steadier."""
    known = []
    for step, exact in ((5.0, False), (1.0, False), (1.0, True)):
        steady, fast, simple = _courses(number, step, exact)
        known += [steady, fast, simple]
        for course in known:
            assert fast.check.duration_s <= course.check.duration_s * (1 + HARDLY) + 1e-9
            moves = len(course.actions), course.check.duration_s * (1 + HARDLY) + 1e-9
            assert (len(simple.actions), simple.check.duration_s) <= moves
        for course in (fast, simple):  # simulated again on another stream: to within what 20,000 runs leave open
            assert steady.check.success.probability >= course.check.success.probability - 0.015
        for course in (steady, fast, simple):
            assert judge_course(random_scene(number, step), course.start, course.actions).clear


@pytest.mark.parametrize(
    ("number", "aim", "exact"), [(36, "fastest", False), (36, "simplest", True), (38, "simplest", False)]
)
def test_a_robot_that_turns_finer_is_told_nothing_worse(number, aim, exact):
    """A target at an edge, where the finest grid is worth its time; a table of 20 m, where a way home begins elsewhere."""
    coarse = plan_courses(random_scene(number, 5.0), aim)[0]
    fine = plan_courses(random_scene(number, 1.0), aim, exact=exact)[0]
    most = coarse.check.duration_s * (1 + HARDLY) + 1e-9
    least_actions = (0, 0) if aim == "fastest" else (len(fine.actions), len(coarse.actions))
    assert (least_actions[0], fine.check.duration_s) <= (least_actions[1], most)


@pytest.mark.parametrize("exact", [True, False])
def test_no_course_has_two_legs_that_one_clear_leg_of_no_more_time_replaces(exact):
    scene = random_scene(0)
    for course in _courses(0, 1.0, exact)[1:]:
        for shorter in simpler(course.start, course.actions, 0.0 if exact else 1.0):
            check = check_course(scene, course.start, shorter, quick=True)
            assert not check.clear or check.duration_s > course.check.duration_s


@pytest.mark.parametrize(
    ("short", "long", "over"),
    [
        (20, 30, 0),  # the nominal end, in the middle half
        (0, 60, 15),  # at the window's very edge half of the runs would fall short
        (59, 0, -14.75),
        (30, 10, 0),
    ],
)
def test_an_exact_push_ends_at_its_mark_or_in_the_middle_half_of_the_window(short, long, over):
    scene = plain_scene()
    target = replace(scene.target, window=Window(22, 5, short, long))
    assert exact_push_over(replace(scene, target=target)) == pytest.approx(over)


@pytest.mark.parametrize("exact", [True, False])
def test_other_pushes_of_a_course_are_clear_and_come_home_to_the_same_place(exact):
    scene = plain_scene(obstacles=(BANK,))
    pool = Pool(PartFinder(scene, exact=exact, seed=0, tick=lambda: None))
    pool.look(Caution(extra_mm=5), Part.by_seconds)
    whole = pool.best(lambda each: (each.seconds(scene),))[0]
    others = pool.other_pushes(whole)
    assert others
    end = check_course(scene, scene.start, whole.actions, quick=True).poses[-1]
    for other in others:
        check = check_course(scene, scene.start, other.actions, quick=True)
        assert check.clear, check.touches
        assert (check.poses[-1].x_mm, check.poses[-1].y_mm) == pytest.approx((end.x_mm, end.y_mm))
        assert -7.5 - 1e-6 <= miss(scene, other.out.end)[0] <= 17.5 + 1e-6
        assert miss(scene, check.poses[len(other.out.actions)]) == pytest.approx(miss(scene, other.out.end))


def test_a_way_home_from_a_pose_come_to_once_more_round_is_the_same_with_its_headings_counted_on():
    scene = plain_scene(obstacles=(BANK,))
    finder = PartFinder(scene, exact=False, seed=0, tick=lambda: None)
    end = finder.outs(Caution(extra_mm=5))[0].end
    home = finder.homes(Caution(extra_mm=5), end)[0]
    again = home.begun_at(replace(end, heading_deg=end.heading_deg - 360))
    assert home.begun_at(end) is home
    assert again.end == replace(home.end, heading_deg=home.end.heading_deg - 360)
    for part in (home, again):
        poses = poses_of(part.start, part.actions)[1:]
        turns = [(pose, turn) for pose, turn in zip(poses, part.actions, strict=True) if isinstance(turn, Turn)]
        assert turns
        assert [turn.to_deg for _, turn in turns] == pytest.approx([pose.heading_deg for pose, _ in turns])


def test_of_equally_quick_courses_the_one_that_works_most_often_is_taken():
    scene = plain_scene(obstacles=(BANK,))
    pool = Pool(PartFinder(scene, exact=True, seed=0, tick=lambda: None))
    pool.look(Caution(), Part.by_seconds)
    best = pool.best(lambda whole: (whole.seconds(scene),))[0]
    near = [whole for whole in pool.known.values() if whole.seconds(scene) <= best.seconds(scene)]
    assert all(pool._works(whole) <= pool._works(best) for whole in near)
    quickest = min(whole.seconds(scene) for whole in pool.known.values())
    assert best.seconds(scene) <= quickest * (1 + HARDLY)
