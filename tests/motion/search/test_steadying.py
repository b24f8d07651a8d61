"""Ways out are made steadier by what simulated runs say: more runs work, still clear, in steps and within what is allowed."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

import pytest

from motion.check import check_course
from motion.course.actions import Drive, Push, Turn
from motion.scene.files import read_scene
from motion.scene.records import Obstacle
from motion.search import steadiest
from motion.search.plan import plan_courses
from tests.motion.scenes import SCENES, box, plain_scene
from tests.oracles.judge import judge_course

#: No choice is made on this stream.
UNUSED, RUNS = 4_711, 30_000
BANK = Obstacle(box(700, 250, 300, 400), "gravel bank")
#: The scene in which the long search of ``benchmarks.motion_steadiest`` found a course of which 37.4 of 100 runs work.
ESTUARY_04 = read_scene(next(path for path in SCENES if path.stem == "estuary-04").read_bytes())


@lru_cache(maxsize=8)
def _planned(scene, **how):
    return plan_courses(scene, "steadiest", **how)[0]


def _works(scene, course) -> float:
    return check_course(scene, course.start, course.actions, runs=RUNS, seed=UNUSED).success.probability


def _clear_to_both(scene, course) -> bool:
    return course.check.clear and judge_course(scene, course.start, course.actions).clear


@pytest.fixture
def unsteadied(monkeypatch):
    """The planner whose ways out stay as its searches found them."""
    monkeypatch.setattr(steadiest, "steadied", lambda finder, parts, judges: [])


def test_a_way_out_is_made_steadier_than_any_search_found_it(unsteadied, monkeypatch):
    before = plan_courses(ESTUARY_04, "steadiest")[0]
    monkeypatch.undo()
    course = _planned(ESTUARY_04)
    assert _clear_to_both(ESTUARY_04, course)
    assert _works(ESTUARY_04, course) > _works(ESTUARY_04, before) + 0.01


def test_on_estuary_04_nearly_as_many_runs_work_as_a_long_search_found():
    assert _works(ESTUARY_04, _planned(ESTUARY_04)) > 0.95 * 0.374


def test_its_numbers_can_be_set_and_it_stops_nowhere_within_a_straight_leg():
    course, robot = _planned(ESTUARY_04), ESTUARY_04.robot
    for action in course.actions:
        if isinstance(action, Turn):
            assert action.by_deg / robot.turn_step_deg == pytest.approx(round(action.by_deg / robot.turn_step_deg))
        elif isinstance(action, Drive | Push):
            steps = action.distance_mm / robot.distance_step_mm
            assert steps == pytest.approx(round(steps))
    out = course.actions[: next(i for i, action in enumerate(course.actions) if isinstance(action, Push))]
    assert not any(
        isinstance(a, Drive) and isinstance(b, Drive) and a.distance_mm * b.distance_mm > 0 for a, b in pairwise(out)
    )


def test_exact_numbers_that_were_moved_are_clear_too_and_steadier(unsteadied, monkeypatch):
    scene = plain_scene(obstacles=(BANK, Obstacle(box(1100, 700, 200, 300), "dyke")))
    before = plan_courses(scene, "steadiest", exact=True)[0]
    monkeypatch.undo()
    course = _planned(scene, exact=True)
    assert _clear_to_both(scene, course)
    assert course.actions != before.actions
    assert _works(scene, course) > _works(scene, before)


def test_a_limit_of_steps_holds_for_what_is_made_steadier():
    scene, most = plain_scene(obstacles=(BANK,)), 11
    course = _planned(scene, most_actions=most)
    assert len(course.actions) <= most and _clear_to_both(scene, course)


def test_where_each_turn_adds_to_all_headings_after_it_fewer_turns_are_made():
    """A further turn sets the heading anew where a gyroscope measures it; without one it only adds its own error."""
    relative = replace(ESTUARY_04, noise=replace(ESTUARY_04.noise, yaw_reference="relative"))
    course = _planned(relative)
    assert _clear_to_both(relative, course)
    assert len(course.actions) < len(_planned(ESTUARY_04).actions)
