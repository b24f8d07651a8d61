"""Several targets in one course: which push is whose, what stands where, and what a check says of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from motion.chance.landing import miss
from motion.chance.many import chances_of_many, runs_of_many
from motion.chance.montecarlo import normals, outcomes, success
from motion.chance.simulate import Manner, simulate_run
from motion.check import check_course
from motion.course.actions import Drive, Push, Turn
from motion.course.times import course_seconds
from motion.ground.clearance import poses_of
from motion.ground.errands import errands_of, world_of
from motion.scene.example import example_scene
from motion.scene.records import Noise, Pose, Scene
from tests.motion.scenes import many_scene
from tests.oracles.judge import judge_course
from tests.oracles.plain_runs import TrueRobot, play_many

#: Out to the gate, back, up to the bell 500 mm above it, home: all by head on the example's table.
BOTH = (
    Drive(900), Push(100), Drive(-200), Turn(90, 90), Drive(500), Turn(-90, 0), Drive(100), Push(100), Drive(-900),
    Turn(90, 90), Drive(-500),
)  # fmt: skip
BELL_FIRST = (
    Turn(90, 90), Drive(500), Turn(-90, 0), Drive(900), Push(100), Drive(-200), Turn(90, 90), Drive(-500),
    Turn(-90, 0), Drive(100), Push(100), Drive(-1000),
)  # fmt: skip


def _both(**changes) -> Scene:
    scene = example_scene()
    body = tuple((x, y + 500) for x, y in scene.target.body)
    bell = replace(scene.target, name="fog bell", body=body, precontact=Pose(1050, 750, 0))
    return replace(scene, more_targets=(bell,), obstacles=(), **changes)


def _said(scene: Scene, actions) -> list[str]:
    return [touch.message for touch in check_course(scene, scene.start, actions, quick=True).touches]


def test_each_push_is_the_next_target_s_and_the_way_between_belongs_to_the_second():
    scene = _both()
    first, second = errands_of(scene, scene.start, BOTH)
    assert [(e.target, e.first, e.push, e.after) for e in (first, second)] == [(0, 0, 1, 3), (1, 3, 7, 11)]
    assert [stage.name for stage in first.stages] == ["out", "push", "back"]
    assert [stage.name for stage in second.stages] == ["out"] * 4 + ["push", "back", "home", "home"]


def test_in_any_order_a_push_is_the_nearest_target_s():
    scene = _both(any_order=True)
    assert [errand.target for errand in errands_of(scene, scene.start, BELL_FIRST)] == [1, 0]


def test_while_one_is_gone_for_the_others_are_obstacles_where_they_stand():
    scene = _both()
    (before,) = world_of(scene, 0, frozenset()).obstacles
    (after,) = world_of(scene, 1, frozenset({0})).obstacles
    assert (before.name, before.outline[0]) == ("fog bell", (1250, 700))
    assert (after.name, after.outline[0]) == ("tide gate", (1300, 200))  # pushed 50 mm on


def test_a_course_over_both_is_clear_for_both_judges_and_takes_its_time():
    scene = _both()
    check = check_course(scene, scene.start, BOTH, quick=True)
    assert check.clear
    assert judge_course(scene, scene.start, BOTH).clear
    assert [(met.name, met.push) for met in check.meetings] == [("tide gate", 1), ("fog bell", 7)]
    duration, outbound, back = course_seconds(scene.robot, BOTH)
    assert outbound == pytest.approx(4.6)
    assert back == pytest.approx(5.0 - 0.4 + 0.5 + 1.5 + 3.0 - 0.5, abs=0.6)
    assert duration > outbound + back + 3.4  # two pushes and the way between


def test_any_order_takes_what_a_given_order_refuses():
    assert check_course(_both(any_order=True), Pose(150, 250, 0), BELL_FIRST, quick=True).clear
    assert judge_course(_both(any_order=True), Pose(150, 250, 0), BELL_FIRST).clear
    assert "Step 5 pushes the fog bell, but the tide gate comes before it." in _said(_both(), BELL_FIRST)
    assert not judge_course(_both(), Pose(150, 250, 0), BELL_FIRST).clear


def test_a_course_that_ends_early_says_which_target_is_left():
    scene = _both()
    words = _said(scene, (*BOTH[:2], Drive(-1000)))
    assert words == ["The course does not push the fog bell yet."]
    assert _said(scene, ())[0] == "The course does not push the tide gate and the fog bell yet."


def test_three_pushes_of_two_targets_are_one_too_many():
    assert _said(_both(), (*BOTH, Push(100)))[-1] == "Step 12 pushes again; each target is pushed once."


def test_a_second_target_short_of_its_window_is_said_by_its_name():
    short = (*BOTH[:7], Push(40), Drive(-840), *BOTH[9:])
    assert _said(_both(), short) == ["At the fog bell the robot ends 60 mm short of pushed."]


def test_the_robot_may_not_drive_through_a_target_that_was_pushed():
    scene = _both()
    through = (*BOTH[:3], Drive(600), *BOTH[3:])
    assert any(words.endswith("runs into the tide gate.") for words in _said(scene, through))
    assert not judge_course(scene, scene.start, through).clear


def test_a_target_pushed_into_another_is_no_course():
    scene = _both()
    behind = replace(scene.more_targets[0], body=tuple((x + 120, y - 500) for x, y in scene.more_targets[0].body))
    scene = replace(scene, more_targets=(behind,))
    assert "Step 2 pushes the tide gate into the fog bell." in _said(scene, BOTH)
    assert any(
        fault.message == "is pushed into another target" for fault in judge_course(scene, scene.start, BOTH).faults
    )


def test_the_landing_at_each_target_is_that_of_a_course_that_ends_there():
    scene = _both()
    check = check_course(scene, scene.start, BOTH, quick=True)
    first, second = check.meetings
    alone = check_course(replace(scene, more_targets=()), scene.start, (*BOTH[:2], Drive(-1000)), quick=True)
    assert first.landing == alone.landing
    assert second.landing.lateral_sd_mm > first.landing.lateral_sd_mm
    worlds = [errand.world for errand in errands_of(scene, scene.start, BOTH)]
    assert miss(worlds[1], poses_of(scene.start, BOTH)[8])[0] == pytest.approx(0)


def test_of_one_target_the_chances_are_those_of_one_target():
    scene = replace(many_scene(), more_targets=())
    actions = (Turn(-30.2564, 59.7436), Drive(700), Turn(-59.7436, 0), Drive(1000), Push(90), Drive(-400))
    z = normals(len(actions), 4000, seed=3)
    works = runs_of_many(scene, scene.start, actions, z)
    plain = outcomes(scene, scene.start, actions, noise_matrix=z)
    assert works[0].sum() == plain.clean
    whole, at_target = chances_of_many(scene, scene.start, actions, runs=4000, seed=3)
    assert whole == success(scene, scene.start, actions, runs=4000, seed=3)
    assert at_target.probability >= whole.probability


def test_the_chance_of_all_and_of_each_is_what_plainly_driven_runs_do():
    """Against runs walked with numpy and tested with shapely, which share no code: 4 standard errors of both counts."""
    scene = _both()
    scene = replace(
        scene,
        noise=replace(scene.noise, distance_scale_sd=0.0, start_heading_sd_deg=1.0, drift_sd_deg_per_m=1.0,
                      distance_sd_fraction=0.004, turn_growth_sd_deg=0.7),
    )  # fmt: skip
    runs = 4000
    seen = play_many(scene, scene.start, BOTH, TrueRobot(), np.random.default_rng(5), runs, (0, 1)).mean(axis=1)
    said = [chance.probability for chance in chances_of_many(scene, scene.start, BOTH, runs=20_000, seed=2)]
    for plain, predicted in zip(seen, said, strict=True):
        assert abs(plain - predicted) < 4 * np.sqrt(0.25 / runs + 0.25 / 20_000)
    assert said[0] < min(said[1:]) <= max(said[1:]) < 1


def test_one_run_over_both_is_driven_plainly_and_done_only_with_both():
    scene, exact = _both(), Noise(0, 0, 0, 0, 0, 0)
    run = simulate_run(scene, scene.start, BOTH, Manner(), exact, np.random.default_rng(0))
    assert run.clean and run.met and round(run.along_mm, 6) == 0
    short = (*BOTH[:7], Push(40), Drive(-840), *BOTH[9:])
    run = simulate_run(scene, scene.start, short, Manner(), exact, np.random.default_rng(0))
    assert (run.done, run.home, round(run.along_mm)) == (False, True, -60)
    first = (Drive(900), Push(40), Drive(-140), *BOTH[3:])
    run = simulate_run(scene, scene.start, first, Manner(), exact, np.random.default_rng(0))
    assert (run.done, round(run.along_mm)) == (False, -60)
    through = (*BOTH[:3], Drive(600), *BOTH[3:])
    run = simulate_run(scene, scene.start, through, Manner(), exact, np.random.default_rng(0))
    assert run.touched == "tide gate" and not run.done


def test_what_is_touched_on_the_way_home_counts_for_all_and_not_for_a_target():
    scene = _both()
    check = check_course(scene, scene.start, (*BOTH[:-1], Drive(-403)), runs=2000)
    at_targets = [met.success.probability for met in check.meetings]
    assert check.success.probability < min(at_targets)
