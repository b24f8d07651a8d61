"""A tier and a robot as the planner sees them."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.robots.numbers import numbers_for
from classroom.robots.services.calibrate import record_calibration
from motion.course.actions import Drive, Turn
from motion.scene.checks import scene_problems
from planning.courses.rules.course_json import actions_from_json, check_from_json, check_to_json
from planning.courses.scene_for import pose_of, scene_for
from planning.courses.services.check_draft import check_draft
from planning.courses.services.save_revision import save_revision
from tests import factories as make

LONG = [{"commanded_mm": 1000, "measured_mm": each} for each in (1019, 1020, 1021, 1020, 1020)]


@pytest.fixture
def tiers(cast):
    return make.mission_with_tiers(cast.club)[1]


def measured_too_far(robot) -> None:
    record_calibration(robot, "straight", "table", LONG, now=make.NOW)


def test_the_factory_mission_is_a_scene_without_problems(cast, tiers):
    for tier in tiers:
        assert scene_problems(scene_for(tier, cast.robot_a)) == []


def test_a_tier_brings_its_own_obstacles(cast, tiers):
    plain, obstacle, _ = (scene_for(tier, cast.robot_a) for tier in tiers)
    assert plain.obstacles == ()
    assert [each.name for each in obstacle.obstacles] == ["gravel bank"]
    assert obstacle.target.name == "tide gate"


def test_a_mission_may_leave_the_start_to_the_team(cast):
    _, tiers = make.mission_with_tiers(cast.club, start=None)
    assert scene_for(tiers[0], cast.robot_a).start is None


def test_a_robots_step_is_what_a_typed_step_truly_is(cast, tiers):
    measured_too_far(cast.robot_a)
    assert numbers_for(cast.robot_a).distance_scale == pytest.approx(1.02, abs=1e-3)
    step = scene_for(tiers[0], cast.robot_a).robot.distance_step_mm
    assert step == pytest.approx(10.2, abs=0.01)


def test_a_draft_that_drives_into_the_bank_is_told_what_it_touches(cast, tiers):
    start = pose_of(tiers[1].version.start)
    check = check_draft(cast.team_a, tiers[1], cast.robot_a, start, (Turn(20, 20), Drive(1000)))
    assert not check.clear
    assert "gravel bank" in {touch.name for touch in check.touches}


def test_a_draft_is_checked_as_the_robot_truly_drives_it(cast, tiers):
    start = pose_of(tiers[0].version.start)
    before = check_draft(cast.team_a, tiers[0], cast.robot_a, start, (Drive(1000),))
    measured_too_far(cast.robot_a)
    after = check_draft(cast.team_a, tiers[0], cast.robot_a, start, (Drive(1000),))
    assert after.poses[-1].x_mm - before.poses[-1].x_mm == pytest.approx(20, abs=1)


def test_a_check_survives_being_kept(cast, tiers):
    start = pose_of(tiers[1].version.start)
    check = check_draft(cast.team_a, tiers[1], cast.robot_a, start, (Turn(20, 20), Drive(1000)))
    assert check_from_json(check_to_json(check)) == check


def test_a_saved_draft_is_the_next_plan_of_its_team_and_tier(cast, tiers):
    start = pose_of(tiers[0].version.start)
    first, second = (
        save_revision(cast.team_a, tiers[0], cast.robot_a, start, (Drive(1000),), now=make.NOW) for _ in range(2)
    )
    other = save_revision(cast.team_b, tiers[0], cast.robot_a, start, (Drive(1000),), now=make.NOW)
    assert (first.number, second.number, other.number) == (1, 2, 1)


def test_a_saved_draft_keeps_the_true_course_and_the_numbers_of_the_day(cast, tiers):
    measured_too_far(cast.robot_a)
    start = pose_of(tiers[0].version.start)
    course = save_revision(cast.team_a, tiers[0], cast.robot_a, start, (Drive(1000),), now=make.NOW)
    course.refresh_from_db()
    (drive,) = actions_from_json(course.actions, start)
    assert drive.distance_mm == pytest.approx(1020, abs=0.5)
    assert course.numbers["distance_scale"] == pytest.approx(1.02, abs=1e-3)
    assert course.calibration == numbers_for(cast.robot_a).calibration


def test_plan_numbers_go_on_when_the_mission_gets_a_new_version(cast, tiers):
    start = pose_of(tiers[0].version.start)
    save_revision(cast.team_a, tiers[0], cast.robot_a, start, (Drive(1000),), now=make.NOW)
    later = make.MissionVersionFactory(
        mission=tiers[0].version.mission, number=2, published_at=make.NOW + dt.timedelta(days=1)
    )
    next_version = make.TierVersionFactory(tier=tiers[0].tier, version=later)
    assert save_revision(cast.team_a, next_version, cast.robot_a, start, (Drive(900),), now=make.NOW).number == 2


def test_live_pages_hear_of_a_saved_draft(cast, tiers):
    start = pose_of(tiers[0].version.start)
    before = cast.club.live_version
    save_revision(cast.team_a, tiers[0], cast.robot_a, start, (Drive(1000),), now=make.NOW)
    cast.club.refresh_from_db()
    assert cast.club.live_version > before
