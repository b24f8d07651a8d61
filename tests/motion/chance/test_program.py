"""A robot's ways as the compiled runs walk them: growing turns, bias and curve, and many hypotheses at once."""

from __future__ import annotations

import math
from dataclasses import astuple, replace

import numpy as np
import pytest

from benchmarks.sample_courses import out_and_home
from motion.chance.hypotheses import SPREADS, Hypotheses
from motion.chance.landing import landing, told_on
from motion.chance.montecarlo import (
    RUNS_EACH,
    clean_by_hypothesis,
    clean_runs,
    normals,
    outcomes,
    success,
    window_runs,
)
from motion.chance.program import program_of
from motion.chance.simulate import Manner, simulate_run
from motion.course.actions import Push, Turn
from motion.errors import MotionError
from motion.scene.records import Noise, Obstacle, Pose, Systematic, Window
from tests.motion.scenes import NOISE, box, plain_scene
from tests.oracles.plain_walk import in_window, landed, walked

SILENT = Noise(0, 0, 0, 0, 0, 0)
QUIET = replace(NOISE, turn_sd_deg=0.4, start_heading_sd_deg=0.3, drift_sd_deg_per_m=0.3, turn_growth_sd_deg=0.5)
WAYS = Systematic(0.006, 2, -3, 0.4, 0.01, 1.3, 2.5)
CURVE = Systematic(turn_bias_deg=1.5, drift_deg_per_m=4.0)
references = pytest.mark.parametrize("reference", ["absolute", "relative"])


def open_scene(**changes):
    values = {"depth_mm": 1600.0, "base": box(0, 0, 700, 700), "noise": QUIET}
    return plain_scene(**(values | changes))


START = Pose(330, 330, 90)
COURSE = tuple(out_and_home(open_scene(), START, via=[(330, 600)], home_via=[(900, 600)]))
UNTIL = 1 + next(k for k, action in enumerate(COURSE) if isinstance(action, Push))


# A turn's spread grows with its angle


@pytest.mark.parametrize(
    ("turns", "reference", "sd"),
    [
        ((360,), "absolute", 1.0),  # 0.6 squared and four times 0.4 squared
        ((-360,), "absolute", 1.0),
        ((90, -180, 90), "relative", math.sqrt(3 * 0.36 + 4 * 0.16)),
        ((90, -180, 90), "absolute", math.sqrt(0.36 + 0.16)),  # only the last is left
    ],
)
def test_growing_turns_by_hand_in_closed_form_and_in_runs(turns, reference, sd):
    noise = Noise(0, 0, 0, 0.6, 0, 0, reference, turn_growth_sd_deg=0.4)
    scene = plain_scene(noise=noise, target=replace(plain_scene().target, window=Window(900, sd, 900, 900)))
    course, start = (*(Turn(by, 0) for by in turns), Push(90)), Pose(1600, 600, 0)
    result, _ = landing(scene, start, course)
    assert result.heading_sd_deg == pytest.approx(sd)
    # a window of one standard deviation: 0.682689 of the runs
    n = 50_000
    within = window_runs(scene, start, course, normals(len(course), n, 5)) / n
    assert within == pytest.approx(0.682689, abs=4 * math.sqrt(0.6827 * 0.3173 / n))


@references
def test_growing_turns_are_walked_as_in_plain_code(reference):
    scene = open_scene(noise=replace(QUIET, yaw_reference=reference, turn_growth_sd_deg=2.0))
    z = normals(len(COURSE), 20_000, 3)
    plain = in_window(scene, walked(scene, START, COURSE, z)[:, UNTIL])
    assert 2000 < plain.sum() < 18_000
    assert abs(window_runs(scene, START, COURSE, z) - int(plain.sum())) <= 3


# What a robot does every time


def both_ways(scene):
    """What is told so that the course comes about, and the course itself told as if the robot did nothing every time."""
    return told_on(scene, START, COURSE), COURSE


@references
@pytest.mark.parametrize("known", [WAYS, CURVE, Systematic(turn_scale=-0.02, start_heading_deg=-1)])
def test_bias_and_curve_are_walked_as_in_plain_code_told_or_not(reference, known):
    scene = open_scene(noise=replace(QUIET, yaw_reference=reference), systematic=known)
    scene = replace(scene, target=replace(scene.target, window=Window(60, 8, 60, 60)))
    z, seen = normals(len(COURSE), 20_000, 3), []
    for told in both_ways(scene):
        plain = in_window(scene, walked(scene, START, COURSE, z, told)[:, UNTIL])
        # float32 against float64: a run within a thousandth of a mm of the window's edge may go either way
        seen.append(window_runs(scene, START, COURSE, z, told=told))
        assert abs(seen[-1] - int(plain.sum())) <= 3
    if known is CURVE:
        assert seen[0] > seen[1] + 1000, "what is told for it helps"


@references
@pytest.mark.parametrize("allowed", [True, False], ids=["told", "not told"])
def test_a_silent_robot_that_curves_lands_where_the_slow_simulation_has_it(reference, allowed):
    scene = open_scene(noise=replace(SILENT, yaw_reference=reference), systematic=CURVE)
    told = told_on(scene, START, COURSE) if allowed else COURSE
    manner = Manner(turn_bias_deg=1.5, drift_deg_per_m=4.0)
    run = simulate_run(scene, START, told, manner, scene.noise, np.random.default_rng(0))
    result, _ = landing(scene, START, COURSE, told=told)
    assert (result.along_mm, result.lateral_mm) == pytest.approx((run.along_mm, run.lateral_mm), abs=1e-6)
    assert result.heading_deg == pytest.approx(run.heading_error_deg, abs=1e-9)
    if allowed:
        assert landing(scene, START, COURSE)[0] == result, "what is told for it is the default"


@references
@pytest.mark.parametrize("allowed", [True, False], ids=["told", "not told"])
def test_runs_of_a_robot_that_curves_land_on_average_where_the_slow_simulation_does(reference, allowed):
    noise = replace(QUIET, yaw_reference=reference)
    scene = open_scene(noise=noise, systematic=CURVE)
    told = told_on(scene, START, COURSE) if allowed else COURSE
    manner, rng, n = Manner(turn_bias_deg=1.5, drift_deg_per_m=4.0), np.random.default_rng(6), 150
    runs = [simulate_run(scene, START, told[:UNTIL], manner, noise, rng) for _ in range(n)]
    slow = np.array([(run.along_mm, run.lateral_mm, math.radians(run.heading_error_deg)) for run in runs])
    many = landed(scene, walked(scene, START, COURSE, normals(len(COURSE), 50_000, 7), told)[:, UNTIL])
    assert np.abs(slow.mean(axis=0) - many.mean(axis=1)) / many.std(axis=1) == pytest.approx(0, abs=4 / math.sqrt(n))
    assert slow.std(axis=0) / many.std(axis=1) == pytest.approx(1, abs=4 / math.sqrt(2 * n))


@references
@pytest.mark.parametrize("known", [WAYS, CURVE])
def test_the_gate_changes_no_count_of_a_robot_that_curves(reference, known):
    bars = (Obstacle(box(900, 700, 150, 100)), Obstacle(box(1000, 380, 150, 100)))
    scene = open_scene(noise=replace(QUIET, yaw_reference=reference), systematic=known, obstacles=bars)
    gated = outcomes(scene, START, COURSE, runs=3000)
    ungated = outcomes(scene, START, COURSE, runs=3000, gate=False)
    assert replace(gated, exact_tests=0) == replace(ungated, exact_tests=0)
    assert 0 < sum(gated.touched) < 3000


def test_what_is_told_has_one_number_for_each_action():
    with pytest.raises(MotionError) as raised:
        program_of(open_scene(), START, COURSE, told=COURSE[:-1])
    assert (raised.value.code, raised.value.place) == ("shape", "told")


# Hypotheses


def robots(*noises, known=None, weights=None):
    spreads = np.array([[getattr(noise, name) for name in SPREADS] for noise in noises], dtype=float)
    systematic = np.array([astuple(known or Systematic())] * len(noises))
    return Hypotheses(spreads, systematic, np.full(len(noises), 1 / len(noises)) if weights is None else weights)


ONE = replace(QUIET, distance_scale_sd=0.0)
OTHER = replace(ONE, turn_sd_deg=2.5, drift_sd_deg_per_m=2.0)
CROWDED = (Obstacle(box(900, 700, 150, 100)), Obstacle(box(1000, 380, 150, 100)))


@references
@pytest.mark.parametrize("alike", [1, 3])
def test_hypotheses_equal_to_the_plain_noise_count_as_it_does(reference, alike):
    noise = replace(ONE, yaw_reference=reference)
    scene, z = open_scene(noise=noise, obstacles=CROWDED), normals(len(COURSE), 6001, 9)
    many = replace(scene, hypotheses=robots(*[noise] * alike))
    plain = outcomes(scene, START, COURSE, noise_matrix=z)
    assert outcomes(many, START, COURSE, noise_matrix=z) == plain
    assert clean_runs(many, START, COURSE, z) == clean_runs(scene, START, COURSE, z) == plain.clean
    assert window_runs(many, START, COURSE, z) == window_runs(scene, START, COURSE, z)
    assert 0 < plain.clean < 6001


def test_each_hypothesis_has_its_own_share_of_the_runs():
    z = normals(len(COURSE), 5000, 9)
    first, second = (np.ascontiguousarray(part) for part in (z[:, :2500], z[:, 2500:]))
    both = open_scene(obstacles=CROWDED, hypotheses=robots(ONE, OTHER))
    alone = [
        clean_runs(open_scene(obstacles=CROWDED, noise=noise), START, COURSE, part)
        for noise, part in ((ONE, first), (OTHER, second))
    ]
    assert clean_runs(both, START, COURSE, z) == sum(alone)
    assert alone[0] > alone[1]


@references
def test_a_hypothesis_that_curves_is_the_robot_that_curves(reference):
    noise = replace(ONE, yaw_reference=reference)
    plain = open_scene(noise=noise, systematic=CURVE)
    told, z = told_on(plain, START, COURSE), normals(len(COURSE), 4000, 9)
    guessed = open_scene(noise=noise, hypotheses=robots(noise, known=CURVE))
    assert clean_runs(guessed, START, COURSE, z, told=told) == clean_runs(plain, START, COURSE, z, told=told)
    assert clean_runs(guessed, START, COURSE, z, told=told) != clean_runs(guessed, START, COURSE, z)


def test_a_chance_is_the_weighted_mean_over_the_hypotheses():
    scene = open_scene(hypotheses=robots(ONE, OTHER, weights=np.array([0.25, 0.75])))
    chances = clean_by_hypothesis(scene, START, COURSE)
    result = success(scene, START, COURSE)
    assert chances[0] > chances[1] + 0.1
    assert result.probability == pytest.approx(0.25 * chances[0] + 0.75 * chances[1])
    assert result.runs == 2 * RUNS_EACH
    assert result.low < result.probability < result.high
    assert chances[1] - 0.01 <= result.low and result.high <= chances[0] + 0.01


def test_robots_that_are_all_alike_leave_hardly_any_range():
    """What differs between them is the luck of their own runs, and that is taken out."""
    alike = open_scene(hypotheses=robots(*[OTHER] * 64))
    result = success(alike, START, COURSE)
    chances = clean_by_hypothesis(alike, START, COURSE)
    luck = math.sqrt(result.probability * (1 - result.probability) / RUNS_EACH)
    assert chances.std() == pytest.approx(luck, rel=0.35), "512 runs each differ by so much"
    assert result.high - result.low < 3 * luck
    unlike = success(open_scene(hypotheses=robots(*[ONE] * 32, *[OTHER] * 32)), START, COURSE)
    assert unlike.high - unlike.low > 10 * luck
