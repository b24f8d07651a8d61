"""The predicted chance beside a plain simulation that shares no code with it: with and without a curve that is known."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from motion.chance.landing import landing, told_on
from motion.chance.montecarlo import success
from motion.scene.files import read_scene
from motion.scene.records import Systematic
from motion.search.plan import plan_courses
from tests.motion.scenes import SCENES
from tests.oracles.plain_runs import TrueRobot, play

RUNS = 4000


@pytest.fixture(scope="module", params=[0, 3, 7], ids=lambda k: SCENES[k].stem)
def planned(request):
    scene = read_scene(SCENES[request.param].read_bytes())
    return scene, plan_courses(scene, "steadiest")[0]


def as_true(scene) -> TrueRobot:
    noise, known = scene.noise, scene.systematic
    return TrueRobot(
        overshoot_deg=known.turn_bias_deg,
        curve=known.drift_deg_per_m,
        length_share=noise.distance_sd_fraction,
        place_mm=noise.start_position_sd_mm,
        askew_sd_deg=noise.start_heading_sd_deg,
        turn_deg=noise.turn_sd_deg,
        turn_more_deg=noise.turn_growth_sd_deg,
        curve_sd=noise.drift_sd_deg_per_m,
    )


@pytest.mark.parametrize(
    "known",
    [
        Systematic(),
        Systematic(drift_deg_per_m=3.0, turn_bias_deg=1.5),
        Systematic(drift_deg_per_m=-2.0, turn_bias_deg=-1.5),
    ],
    ids=["straight", "curving", "the other way"],
)
def test_what_is_predicted_comes_in_a_plain_simulation(planned, known):
    scene, course = planned
    scene = replace(scene, noise=replace(scene.noise, distance_scale_sd=0.0, turn_growth_sd_deg=0.6), systematic=known)
    told = told_on(scene, course.start, course.actions)
    said = success(scene, course.start, course.actions, runs=20_000, told=told, spread=False).probability
    came = play(scene, course.start, told, as_true(scene), np.random.default_rng(3), RUNS)
    error = math.sqrt(said * (1 - said) / RUNS)
    assert came.worked.mean() == pytest.approx(said, abs=3 * error + 0.015)
    spread, _ = landing(scene, course.start, course.actions, told=told)
    assert came.miss[:, 1].mean() == pytest.approx(spread.lateral_mm, abs=1.5)
    assert came.miss[:, 1].std() == pytest.approx(spread.lateral_sd_mm, rel=0.08)
    assert came.miss[:, 0].mean() == pytest.approx(spread.along_mm, abs=1.5)


def test_a_curve_that_is_not_allowed_for_is_predicted_as_it_comes(planned):
    scene, course = planned
    scene = replace(
        scene, noise=replace(scene.noise, distance_scale_sd=0.0), systematic=Systematic(drift_deg_per_m=5.0)
    )
    plain = tuple(course.actions)
    told = success(scene, course.start, course.actions, runs=20_000, told=plain, spread=False).probability
    came = play(scene, course.start, plain, as_true(scene), np.random.default_rng(4), RUNS)
    # A leg's body is swept along its chord: at 5 degrees a metre an arc of a metre bulges 11 mm off it.
    assert came.worked.mean() == pytest.approx(told, abs=0.05)
