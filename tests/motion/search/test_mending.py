"""A "no" that helps: whatever is proposed is planned again here, and nothing smaller of the same kind is passed over lightly."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from shapely.geometry import Polygon as ShapelyPolygon

from motion.errors import NoCourseError
from motion.picture.chart import course_svg
from motion.scene.checks import scene_problems
from motion.scene.records import Obstacle, Pose
from motion.search.mending import mend_of, with_mend
from motion.search.plan import plan_courses
from tests.motion.scenes import ROBOT, box, plain_scene, target_at
from tests.oracles.judge import judge_course

BANK = Obstacle(box(900, 140, 60, 1060), "gravel bank")
POST = Obstacle(box(1600, 676, 60, 60), "post")
DYKE = Obstacle(((270, 0), (300, 0), (300, 200), (0, 200), (0, 165), (270, 165)), "dyke")
COARSE = replace(ROBOT, distance_step_mm=500, turn_step_deg=90)
REFUSED = {
    "a bank against the far edge": (plain_scene(obstacles=(BANK,)), "obstacle"),
    "a wall before the start": (plain_scene(start=Pose(60, 80, 0), obstacles=(DYKE,)), "obstacle"),
    "a post before the target": (plain_scene(obstacles=(POST,)), "obstacle"),
    "a post behind the target": (plain_scene(obstacles=(Obstacle(box(1830, 560, 60, 60), "post"),)), "obstacle"),
    "two banks": (
        plain_scene(obstacles=(Obstacle(box(900, 0, 60, 520), "one"), Obstacle(box(900, 640, 60, 560), "two"))),
        "obstacle",
    ),
    "a keep-out": (plain_scene(keep_outs=(Obstacle(box(560, 0, 30, 1190)),)), "keep-out"),
    "a start by the edge": (plain_scene(start=Pose(120, 76, 0)), "start"),
    "a target by the edge": (plain_scene(target=target_at(1600, 76, 0)), "target"),
}


def refusal(scene, exact=True):
    with pytest.raises(NoCourseError) as caught:
        plan_courses(scene, "fastest", exact=exact)
    return caught.value


@pytest.mark.slow
@pytest.mark.parametrize("name", REFUSED)
def test_what_is_proposed_was_planned_and_both_judges_find_a_clear_course(name):
    scene, what = REFUSED[name]
    mend = mend_of(scene, refusal(scene), exact=True)
    assert mend is not None
    assert mend.what == what
    assert scene_problems(mend.scene) == []
    course = plan_courses(mend.scene, "fastest", exact=True)[0]
    assert course.check.clear
    assert judge_course(mend.scene, course.start, course.actions).clear
    assert mend.words.endswith(", and there is a way.")


@pytest.mark.slow
def test_a_thing_that_is_moved_goes_as_far_as_is_said_and_stays_on_the_table_and_out_of_others():
    scene, _ = REFUSED["a post before the target"]
    mend = mend_of(scene, refusal(scene), exact=True)
    assert mend.words == "Move the post 1 cm towards the far edge, and there is a way."
    assert mend.scene == replace(scene, obstacles=(Obstacle(box(1600, 686, 60, 60), "post"),))
    assert mend.drawn["before"] == POST.outline
    assert mend.drawn["label"] == "1 cm"


@pytest.mark.slow
def test_what_stands_against_an_edge_is_not_moved_off_the_table_but_made_shorter():
    scene, _ = REFUSED["a bank against the far edge"]
    mend = mend_of(scene, refusal(scene), exact=True)
    assert mend.words.startswith("Make the gravel bank ")
    (after,) = mend.scene.obstacles
    assert ShapelyPolygon(BANK.outline).covers(ShapelyPolygon(after.outline))
    assert max(y for _, y in after.outline) == 1200


@pytest.mark.slow
def test_the_message_goes_on_with_what_to_do_and_the_map_shows_it():
    scene, _ = REFUSED["a post before the target"]
    error = refusal(scene)
    said = with_mend(scene, error, exact=True)
    assert (said.code, said.tightest) == (error.code, error.tightest)
    assert said.message == f"{error.message} Move the post 1 cm towards the far edge, and there is a way."
    drawn = [e.get("class", "") for e in ET.fromstring(course_svg(scene, mend=said.mend)).iter()]
    for kind in ("chart-mend", "chart-mend-way", "chart-mend-head", "chart-label chart-label-mend"):
        assert kind in drawn


@pytest.mark.slow
def test_of_steps_that_are_too_coarse_it_says_which_would_do():
    scene = plain_scene(robot=COARSE)
    error = refusal(scene, exact=False)
    mend = mend_of(scene, error)
    robot = mend.scene.robot
    assert (robot.distance_step_mm, robot.turn_step_deg) < (500, 90)
    assert mend.words.startswith("Steps of ")
    assert plan_courses(mend.scene, "fastest")[0].check.clear
    assert with_mend(scene, error).mend is None  # steps have no place on the map


def test_where_nothing_helps_nothing_is_promised():
    """A target in a closed box that is too small for the robot: no single move opens it."""
    walls = ((1300, 420), (2000, 420), (2000, 790), (1300, 790), (1300, 780), (1990, 780), (1990, 430), (1300, 430))
    scene = plain_scene(obstacles=(Obstacle(walls, "pen"), Obstacle(box(1200, 0, 40, 1200), "dyke")))
    error = refusal(scene)
    mend = mend_of(scene, error, exact=True)
    if mend is not None:
        assert plan_courses(mend.scene, "fastest", exact=True)[0].check.clear
    else:
        assert with_mend(scene, error, exact=True) is error


def test_asked_to_stop_it_says_no_more_than_it_knew():
    scene, _ = REFUSED["a bank against the far edge"]
    error = refusal(scene)
    assert with_mend(scene, error, exact=True, cancelled=lambda: True) is error
