"""Why there is no course: only a place that is really tight is named, and steps that are too coarse are no wall."""

from __future__ import annotations

from dataclasses import replace

import pytest

from motion.errors import NoCourseError
from motion.scene.files import read_scene
from motion.scene.records import Obstacle, Pose, Scene
from motion.search.phases import Phases
from motion.search.plan import plan_courses
from motion.search.proof import explain_no_course, tightest_place
from tests.motion.scenes import ROBOT, SCENES, box, plain_scene

HALVES = ["out", "home"]
EDGE_BANK = Obstacle(box(900, 140, 60, 1060), "gravel bank")
COARSE = replace(ROBOT, distance_step_mm=500, turn_step_deg=90)


def _reason(scene: Scene, half: str) -> NoCourseError:
    return explain_no_course(scene, Phases(scene), half, lambda: None)


@pytest.mark.parametrize("half", HALVES)
@pytest.mark.parametrize("path", SCENES, ids=lambda p: p.stem)
def test_no_pair_of_edges_and_nothing_wider_than_the_robot_needs_is_called_tight(path, half):
    scene = read_scene(path.read_bytes())
    place = tightest_place(scene, half)
    if place is not None:
        assert not all(name.endswith(" edge") for name in place["between"])
        assert 0 < place["gap_mm"] < place["needed_mm"]
    assert _reason(scene, half).code == "no_course"  # these scenes have courses: nothing is a wall


@pytest.mark.parametrize("half", HALVES)
@pytest.mark.parametrize("start", [Pose(120, 120, 90), None])
def test_where_nothing_is_tight_no_place_is_named(start, half):
    scene = plain_scene(start=start)
    assert tightest_place(scene, half) is None
    reason = _reason(scene, half)
    assert reason.tightest is None
    assert "No clear way was found" in reason.message
    assert "edge" not in reason.message


@pytest.mark.parametrize("half", HALVES)
@pytest.mark.parametrize("start", [Pose(120, 120, 90), None])
def test_a_gap_between_an_obstacle_and_an_edge_is_named_measured_and_located(start, half):
    reason = _reason(plain_scene(start=start, obstacles=(EDGE_BANK,)), half)
    assert reason.code == "gap_too_narrow"
    assert "is 14 cm; your robot needs 15.6 cm to drive through." in reason.message
    place = reason.tightest
    assert sorted(place["between"]) == ["gravel bank", "the near edge"]
    assert place["gap_mm"] == pytest.approx(140, abs=0.5)
    assert place["y_mm"] == pytest.approx(70, abs=0.5)
    assert 900 <= place["x_mm"] <= 960


def test_a_gap_that_lets_the_robot_through_straight_is_not_said_to_stop_it():
    reason = _reason(plain_scene(obstacles=(Obstacle(box(900, 200, 60, 1000), "gravel bank"),)), "out")
    assert reason.code == "no_course"
    assert "is 20 cm wide: enough to drive straight through, but your robot needs" in reason.message
    assert reason.tightest["gap_mm"] == pytest.approx(200, abs=0.5)


def test_a_closed_wall_near_the_start_is_not_passed_over():
    wall = ((270, 0), (300, 0), (300, 200), (0, 200), (0, 165), (270, 165))
    reason = _reason(plain_scene(start=Pose(60, 80, 0), obstacles=(Obstacle(wall, "dyke"),)), "out")
    assert reason.code == "no_gap"
    assert "dyke" in reason.message.lower()


def test_a_wall_with_itself_leaves_no_gap_to_another_thing():
    """A ring around the target's near side: what is nearest to the ring has nothing to do with it."""
    ring = ((1300, 300), (2000, 300), (2000, 900), (1300, 900), (1300, 840),
            (1940, 840), (1940, 360), (1360, 360), (1360, 839), (1300, 839))  # fmt: skip
    reason = _reason(plain_scene(obstacles=(Obstacle(ring, "dyke"),)), "out")
    assert reason.tightest is None
    assert reason.code == "no_course"


@pytest.mark.parametrize("aim", ["fastest", "steadiest"])
def test_steps_that_are_too_coarse_are_said_to_be_the_reason(aim):
    scene = plain_scene(robot=COARSE)
    assert plan_courses(scene, "fastest", exact=True)[0].check.clear
    with pytest.raises(NoCourseError) as caught:
        plan_courses(scene, aim)
    assert caught.value.code == "steps_too_coarse"
    assert caught.value.message == (
        "There is a way, but not in steps of 50 cm and 90°. Set smaller steps, or plan with exact numbers."
    )
    assert caught.value.tightest is None


def test_a_wall_stays_the_reason_with_coarse_steps():
    with pytest.raises(NoCourseError) as caught:
        plan_courses(plain_scene(robot=COARSE, obstacles=(EDGE_BANK,)), "fastest")
    assert caught.value.code == "gap_too_narrow"
