"""A rehearsal shows what was checked: its poses and times, and pretend runs that are those of the chance."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from motion.chance.hypotheses import Hypotheses
from motion.chance.montecarlo import endings
from motion.chance.pretend_runs import pretend_runs
from motion.check import check_course
from motion.course.actions import Drive, Push, Tool, Turn
from motion.course.times import action_seconds, pacing_of
from motion.picture.rehearsal import between, rehearse
from motion.scene.records import Obstacle, Pace
from tests.motion.chance.test_montecarlo import COURSE, OPEN_START, SCENE
from tests.oracles.plain_walk import walked

NOISY = replace(SCENE, noise=replace(SCENE.noise, turn_sd_deg=1.5, start_heading_sd_deg=1.0))


def near(pose, other):
    return (pose.x_mm, pose.y_mm, pose.heading_deg) == pytest.approx((other.x_mm, other.y_mm, other.heading_deg))


def test_between_two_steps_it_stands_where_the_check_has_it_and_takes_as_long():
    check, seen = check_course(SCENE, OPEN_START, COURSE, quick=True), rehearse(SCENE, OPEN_START, COURSE)
    assert seen.duration_s == pytest.approx(check.duration_s)
    assert near(seen.frame(0.0).pose, check.poses[0])
    for step, pose in zip(seen.steps, check.poses[1:], strict=True):
        assert near(seen.frame(step.ends_s).pose, pose)
        assert near(seen.frame(step.ends_s - 1e-7).pose, pose)  # at rest by then


@pytest.mark.parametrize("action", [Drive(900), Drive(-40), Turn(200, 200), Turn(-3, -3), Push(70)])
def test_within_a_step_it_goes_by_speed_and_acceleration(action):
    """Against the speed itself, summed up in small pieces of time."""
    robot = SCENE.robot
    speed = {"push": robot.push_speed_mm_s, "drive": robot.speed_mm_s, "turn": robot.turn_rate_deg_s}[action.do]
    gain = robot.turn_acceleration_deg_s2 if action.do == "turn" else robot.acceleration_mm_s2
    whole = abs(action.by_deg if action.do == "turn" else action.distance_mm)
    pacing, dt, now, gone, at = pacing_of(robot, action), 1e-4, 0.0, 0.0, 0.0
    while at < pacing.seconds:
        braking = now * now / (2 * gain) >= whole - gone
        now = max(0.0, min(speed, now + (-gain if braking else gain) * dt))
        gone, at = gone + now * dt, at + dt
        assert pacing.share(at) == pytest.approx(gone / whole, abs=3e-3)
    assert pacing.seconds == pytest.approx(action_seconds(robot, action))


def test_the_target_goes_along_from_where_it_is_met_and_stays_where_it_was_pushed():
    seen = rehearse(SCENE, OPEN_START, COURSE)
    push = next(i for i, action in enumerate(COURSE) if isinstance(action, Push))
    target, step = SCENE.target, seen.steps[push]
    h = math.radians(target.precontact.heading_deg)
    for part in np.linspace(0, 1, 9):
        at = step.begins_s + part * step.pacing.seconds
        gone = math.dist(*((p.x_mm, p.y_mm) for p in (seen.poses[push], seen.frame(at).pose)))
        far = max(0.0, gone - target.gap_mm)
        assert seen.frame(at).moved[0] == pytest.approx((far * math.cos(h), far * math.sin(h)), abs=1e-6)
    assert seen.frame(seen.duration_s).moved == seen.frame(step.ends_s).moved
    assert math.hypot(*seen.frame(1e9).moved[0]) == pytest.approx(target.push_mm)


def test_a_push_that_stops_in_the_gap_moves_nothing():
    push = next(i for i, action in enumerate(COURSE) if isinstance(action, Push))
    seen = rehearse(SCENE, OPEN_START, [*COURSE[:push], Push(SCENE.target.gap_mm - 5)])
    assert seen.frame(seen.duration_s).moved == ((0.0, 0.0),)


def test_the_tool_is_down_from_the_end_of_its_lowering_to_the_end_of_its_raising():
    seen = rehearse(SCENE, OPEN_START, [Tool("lower", 2.0), Drive(100), Tool("raise", 1.0)])
    end = seen.duration_s
    assert [seen.frame(t).lowered for t in (0.5, 2.1, end - 0.5, end)] == [True, True, False, False]


def test_a_course_of_nothing_stands_still():
    seen = rehearse(SCENE, OPEN_START, [])
    assert seen.frame(3.0).pose == OPEN_START
    assert seen.ghosts == ()


def test_pretend_runs_are_runs_of_the_chance_walked_once_more():
    """Each is one column of the chance's own noise matrix, by a second walk in plain numpy."""
    z, codes = endings(NOISY, OPEN_START, COURSE)
    plain = walked(NOISY, OPEN_START, COURSE, z)
    ends = plain[:, -1, :2]
    for run in pretend_runs(NOISY, OPEN_START, COURSE):
        column = int(np.argmin(np.hypot(*(ends - (run.poses[-1].x_mm, run.poses[-1].y_mm)).T)))
        way = np.array([(p.x_mm, p.y_mm, math.radians(p.heading_deg)) for p in run.poses])
        assert np.abs(way - plain[column]).max() < 0.02
        assert (codes[column] == 0) == (run.ending == "works")


@pytest.mark.parametrize("turn_sd", [0.4, 1.5, 4.0])
def test_as_many_of_twenty_work_as_the_chance_says(turn_sd):
    scene = replace(SCENE, noise=replace(SCENE.noise, turn_sd_deg=turn_sd))
    chance = check_course(scene, OPEN_START, COURSE).success.probability
    working = sum(run.ending == "works" for run in pretend_runs(scene, OPEN_START, COURSE))
    assert working == pytest.approx(20 * chance, abs=1.0)


def test_robots_that_might_be_have_their_weight_among_them():
    """Two robots, one exact and one that goes 8 % too far: as many run past as the second weighs."""
    known = np.zeros((2, 7))
    known[1, 0] = 0.08
    both = Hypotheses(np.zeros((2, 6)), known, np.array([0.75, 0.25]))
    ghosts = pretend_runs(replace(SCENE, hypotheses=both), OPEN_START, COURSE)
    assert sum(run.ending == "works" for run in ghosts) == 15


def test_too_slow_a_run_does_not_work():
    seconds = check_course(SCENE, OPEN_START, COURSE, quick=True).duration_s
    hurried = replace(SCENE, time_limit_s=seconds, pace=Pace(1.0, 0.1))
    working = sum(run.ending == "works" for run in pretend_runs(SCENE, OPEN_START, COURSE))
    endings_now = [run.ending for run in pretend_runs(hurried, OPEN_START, COURSE)]
    assert endings_now.count("works") == pytest.approx(working / 2, abs=0.5)
    assert endings_now.count("late") == working - endings_now.count("works")


def test_a_run_that_touches_stops_where_its_body_first_meets_the_thing():
    import shapely

    from motion.search.phases import placed

    leg = next(i for i, a in enumerate(COURSE) if isinstance(a, Drive) and a.distance_mm > 500)
    poses = check_course(SCENE, OPEN_START, COURSE, quick=True).poses
    x, y = (between(poses[leg], poses[leg + 1], 0.6).x_mm, between(poses[leg], poses[leg + 1], 0.6).y_mm)
    h = math.radians(poses[leg + 1].heading_deg + 90)
    x, y = x + 88 * math.cos(h), y + 88 * math.sin(h)  # 13 mm beside the body's side
    post = ((x - 10, y - 10), (x + 10, y - 10), (x + 10, y + 10), (x - 10, y + 10))
    scene = replace(NOISY, obstacles=(Obstacle(post, "post"),))
    touching = [run for run in pretend_runs(scene, OPEN_START, COURSE) if run.ending == "touches"]
    assert touching
    for run in touching:
        assert run.name == "post"
        a, b = run.poses[run.action], run.poses[run.action + 1]
        for share, meets in ((run.share, True), (run.share - 0.02, False)):
            gap = placed(scene.robot.footprint, between(a, b, share)).distance(shapely.Polygon(post))
            assert (gap < 0.5) == meets
