"""One run that stands out, a target that has moved, a battery that runs down: told apart by runs of the plain robot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.honest_diagnosis import (
    COURSE,
    OTHER,
    ROBOT,
    SCENE,
    START,
    Truth,
    asked,
    landings,
    named,
    of,
    slipped,
)
from motion.calibration.diagnosis import _stands_out, diagnose
from motion.calibration.diagnosis_causes import BATTERY, CAUSES, Run, causes_for, runs_of
from motion.chance.error import SCALE
from motion.chance.logged import Logged, Miss
from motion.errors import FitError
from motion.scene.records import Pose

BIASED = replace(ROBOT, turn_bias_deg=5.0)


@pytest.mark.parametrize("far", [150.0, 300.0])
def test_a_slip_hides_no_cause(far):
    rng = np.random.default_rng(1)
    seen = []
    for _ in range(40):
        rows, which = slipped(landings(BIASED, COURSE, 5, rng), far, rng)
        found = asked(rows)
        assert found.slips in ((), ((0, which),))
        seen.append(("turn_bias" in named(found), bool(found.slips)))
    causes, slips = np.mean(seen, axis=0)
    assert causes >= 0.9
    assert slips >= 0.75


@pytest.mark.parametrize("yaw", ["absolute", "relative"])
@pytest.mark.parametrize("far", [0.0, 80.0, 150.0, 300.0])
@pytest.mark.parametrize("runs", [4, 6])
def test_a_slip_makes_no_cause(yaw, far, runs):
    rng = np.random.default_rng(2)
    scene = replace(SCENE, noise=replace(SCENE.noise, yaw_reference=yaw))
    false = 0
    for _ in range(100):
        rows = landings(replace(ROBOT, yaw=yaw), COURSE, runs, rng)
        rows, which = slipped(rows, far, rng)
        found = diagnose([replace(of(rows, COURSE), scene=scene)], in_time=[(0, k) for k in range(runs)])
        false += bool(found.findings) or found.slips not in ((), ((0, which),))
    assert false <= 3


def test_a_slip_alone_is_named_and_the_others_are_as_always():
    rng = np.random.default_rng(3)
    rows = landings(ROBOT, COURSE, 6, rng)
    rows[2] += (-250.0, 0.0, 0.0)
    found = asked(rows)
    assert (found.verdict, found.slips, found.findings, found.wider) == ("no_pattern", ((0, 2),), (), False)
    assert found.sentence.startswith("Run 3 stands out: it landed 2")
    assert found.sentence.endswith(
        " mm shorter than the others. The others scatter as widely as this robot always does."
    )
    assert "without run 3" in found.evidence and "run 3" in found.advice
    assert found.corrected == tuple(COURSE)
    assert found.runs == 6


def test_a_slip_is_called_by_its_place_in_time():
    rows = landings(ROBOT, COURSE, 5, np.random.default_rng(4))
    rows[0] += (0.0, 300.0, 0.0)
    newest_first = diagnose([of(rows, COURSE)], in_time=[(0, k) for k in (4, 3, 2, 1, 0)])
    assert newest_first.slips == ((0, 0),)
    assert newest_first.sentence.startswith("Run 5 stands out")
    assert asked(rows).sentence.startswith("Run 1 stands out")


def test_three_runs_are_too_few_to_set_one_aside_but_they_are_wider_than_usual():
    rows = landings(ROBOT, COURSE, 3, np.random.default_rng(5))
    rows[1] += (300.0, 0.0, 0.0)
    found = asked(rows)
    assert (found.verdict, found.slips, found.wider) == ("no_pattern", (), True)
    assert found.sentence == "No pattern, but the misses scatter wider than this robot usually does."


def test_a_robot_that_has_become_twice_as_wide_is_not_told_to_be_as_always():
    rng = np.random.default_rng(6)
    doubled = {name: 2.5 * value for name, value in vars(ROBOT).items() if "sd" in name and isinstance(value, float)}
    told = [asked(landings(replace(ROBOT, **doubled), COURSE, 8, rng)) for _ in range(40)]
    assert sum(each.wider for each in told) >= 36
    assert not any(each.wider and "always" in each.sentence + each.evidence for each in told)
    usual = [asked(landings(ROBOT, COURSE, 8, rng)) for _ in range(100)]
    assert sum(each.wider for each in usual) <= 4


def test_a_target_that_has_moved_is_named_with_where_it_stands():
    rows = landings(Truth(), COURSE, 8, np.random.default_rng(7)) - (0.0, 40.0, 0.0)
    other = landings(Truth(), OTHER, 8, np.random.default_rng(8)) - (0.0, 40.0, 0.0)
    found = asked(rows, COURSE, of(other, OTHER))
    causes = {f.parameter: f for f in (*found.findings, *found.alternatives)}
    assert causes["target_lateral"].size == pytest.approx(40.0, abs=3 * causes["target_lateral"].uncertainty)
    assert "farther to the left than the plan has it" in causes["target_lateral"].sentence
    assert found.corrected == tuple(COURSE)


def test_a_target_met_from_another_side_moves_the_other_way_in_that_course():
    """Ten to the left of a course along +x is ten short of one along +y; another target has not moved with it."""
    scene = replace(SCENE, target=replace(SCENE.target, precontact=Pose(1600.0, 600.0, 90.0)))
    elsewhere = replace(scene, target=replace(scene.target, body=tuple((x + 9, y) for x, y in scene.target.body)))
    one = Miss(0.0, 0.0, 0.0)
    first, turned, another = runs_of([Logged(each, START, tuple(COURSE), (one,)) for each in (SCENE, scene, elsewhere)])
    at = [name for name, _ in CAUSES].index("target_along")
    assert first.slope[:, at : at + 3] == pytest.approx(-np.eye(3))
    assert turned.slope[:, at : at + 3] == pytest.approx(-np.array([[0, 1, 0], [-1, 0, 0], [0, 0, 1]]), abs=1e-12)
    assert not another.slope[:, at : at + 3].any()


def test_a_battery_that_runs_down_is_named_only_when_the_order_is_known():
    rng = np.random.default_rng(9)
    falling = replace(ROBOT, scale=1.0 - 0.005 * np.arange(8))
    every = [landings(falling, COURSE, 8, rng) for _ in range(30)]
    found = [(asked(rows, timed=True), asked(rows)) for rows in every]
    assert sum("battery" in named(timed) for timed, _ in found) >= 27
    assert not any("battery" in named(plain) for _, plain in found)
    sizes = [f.size for timed, _ in found for f in timed.findings if f.parameter == "battery"]
    assert np.mean(sizes) == pytest.approx(-0.05, abs=0.01)
    first = next(timed for timed, _ in found if [f.parameter for f in timed.findings] == ["battery"])
    assert "as with a battery that runs down" in first.sentence
    assert first.corrected == tuple(COURSE)


def test_a_trend_grows_with_time_and_needs_five_runs():
    misses = tuple(Miss(0.0, float(k), 0.0) for k in range(5))
    backwards = [(0, k) for k in (4, 3, 2, 1, 0)]
    runs = runs_of([Logged(SCENE, START, tuple(COURSE), misses)], backwards)
    assert [run.number for run in runs] == [5, 4, 3, 2, 1]
    for run in runs:
        assert run.slope[:, BATTERY] == pytest.approx(run.slope[:, SCALE] * (run.number - 1) / 10)
    assert BATTERY in causes_for(runs)
    assert BATTERY not in causes_for(runs[:4])
    assert BATTERY not in causes_for(runs_of([Logged(SCENE, START, tuple(COURSE), misses)]))


@pytest.mark.parametrize("order", [[(0, 0)], [(0, 0), (0, 0)], [(0, 0), (1, 0)], [(0, 0), (0, 1), (0, 2)]])
def test_an_order_that_does_not_name_each_run_once_is_refused(order):
    with pytest.raises(FitError) as refused:
        diagnose([Logged(SCENE, START, tuple(COURSE), (Miss(1.0), Miss(2.0)))], in_time=order)
    assert (refused.value.code, refused.value.place) == ("shape", "in_time")


def test_a_slip_stands_out_from_the_other_runs_of_its_own_course():
    def ended(course, miss, along):
        return Run((course, miss), miss + 1, (0,), np.array([along]), np.eye(1), np.zeros((1, 1)))

    slip, own, elsewhere = ended(0, 5, 100.0), [ended(0, 0, 8.0), ended(0, 1, 12.0)], [ended(1, 5, 60.0)]
    assert _stands_out(slip, own + elsewhere) == (6, 0, 90.0)
    assert _stands_out(slip, elsewhere) == (6, 0, 100.0), "off what was expected of it"
