"""Diagnosis: real causes are found, false ones are rare, sizes are as sure as they say."""

import math
from dataclasses import replace

import numpy as np
import pytest

from benchmarks.sample_courses import through
from motion.calibration.diagnosis import diagnose
from motion.calibration.diagnosis_causes import Prior
from motion.calibration.diagnosis_words import corrected_actions
from motion.chance.landing import landing_errors, parameter_jacobian
from motion.chance.logged import Logged, Miss
from motion.chance.simulate import Manner, simulate_run
from motion.course.actions import Drive, Push, Turn
from motion.errors import FitError, MotionError
from motion.scene.records import Noise, Pose
from tests.motion.scenes import NOISE, plain_scene

SCENE = plain_scene(noise=replace(NOISE, turn_sd_deg=0.8, start_heading_sd_deg=0.5))
START = Pose(120, 120, 90)
COURSE = (*through(START, [(120, 700), (900, 300), (1400, 600), (1600, 600)]), Push(90))
SILENT = Noise(0, 0, 0, 0, 0, 0)
READING = np.array([3.0, 3.0, 1.5])


def logged(rng, manner, runs, scene=SCENE, course=COURSE):
    """Runs by the independent simulation, read with a ruler."""
    misses = []
    for _ in range(runs):
        run = simulate_run(scene, START, course, manner, scene.noise, rng)
        along, lateral, heading = np.array([run.along_mm, run.lateral_mm, run.heading_error_deg]) + rng.normal(
            0, READING
        )
        misses.append(Miss(lateral, along, heading))
    return misses


def diagnose_one(misses, scene, start, actions, prior=None, **told):
    """Of one course."""
    return diagnose([Logged(scene, start, tuple(actions), tuple(misses))], prior, **told)


def drawn(rng, shift, runs, scene=SCENE, wider=1.0):
    """Runs from the linear model, fast enough for thousands of sets."""
    errors = landing_errors(scene, START, COURSE)
    to_deg = np.diag([1, 1, math.degrees(1)])
    covariance = to_deg @ errors.covariance @ to_deg * wider**2 + np.diag(READING**2)
    rows = rng.multivariate_normal(to_deg @ errors.mean + shift, covariance, runs)
    return [Miss(lateral, along, heading) for along, lateral, heading in rows]


def test_turns_that_come_out_too_big_are_found_with_their_size():
    result = diagnose_one(logged(np.random.default_rng(1), Manner(turn_bias_deg=4.0), 8), SCENE, START, COURSE)
    assert result.verdict == "pattern"
    causes = {f.parameter: f for f in (*result.findings, *result.alternatives)}
    assert "turn_bias" in causes
    assert causes["turn_bias"].size == pytest.approx(4.0, abs=3 * causes["turn_bias"].uncertainty)
    assert "degrees too big" in causes["turn_bias"].sentence
    assert "8 runs" in result.evidence


@pytest.mark.parametrize(
    ("manner", "parameter", "size"),
    [
        (Manner(distance_scale=1.04), "distance_scale", 0.04),
        (Manner(distance_scale=0.96), "distance_scale", -0.04),
        (Manner(turn_scale=1.06), "turn_scale", 0.06),
        (Manner(turn_bias_deg=-4.0), "turn_bias", -4.0),
        (Manner(drift_deg_per_m=6.0), "drift", 6.0),
    ],
)
def test_real_causes_are_among_those_named_at_their_true_size(manner, parameter, size):
    rng = np.random.default_rng(2)
    named = near = 0
    for _ in range(12):
        result = diagnose_one(logged(rng, manner, 6), SCENE, START, COURSE)
        causes = {f.parameter: f for f in (*result.findings, *result.alternatives)}
        if parameter in causes:
            named += 1
            near += abs(causes[parameter].size - size) < 3 * causes[parameter].uncertainty
    assert named >= 10
    assert near >= named - 1


@pytest.mark.parametrize("reference", ["absolute", "relative"])
@pytest.mark.parametrize("runs", [3, 5, 10])
@pytest.mark.parametrize("wider", [1.0, 1.6])
def test_false_claims_are_rare_when_nothing_is_off(reference, runs, wider):
    rng = np.random.default_rng(3)
    scene = replace(SCENE, noise=replace(SCENE.noise, yaw_reference=reference))
    sets = 400
    claims = sum(
        diagnose_one(drawn(rng, 0.0, runs, scene, wider), scene, START, COURSE).verdict == "pattern"
        for _ in range(sets)
    )
    assert claims / sets <= 0.03, "the robot may even scatter more than its noise says"


def test_the_joint_posterior_covers_the_truth_as_often_as_it_says():
    rng = np.random.default_rng(4)
    slope = parameter_jacobian(SCENE, START, COURSE)
    prior = Prior()
    inside = np.zeros(7)
    sets = 600
    for _ in range(sets):
        truth = rng.normal(0, prior.sds()[:7])
        result = diagnose_one(drawn(rng, slope @ truth, 6), SCENE, START, COURSE, prior)
        inside += np.abs(np.array(result.posterior_mean) - truth) <= 1.959964 * np.array(result.posterior_sd)
    assert inside / sets == pytest.approx(np.full(7, 0.95), abs=0.035)


def test_a_single_cause_is_as_sure_as_it_says():
    rng = np.random.default_rng(5)
    slope = parameter_jacobian(SCENE, START, COURSE)[:, 5]
    hits, seen = 0, 0
    for _ in range(400):
        result = diagnose_one(drawn(rng, slope * 4.0, 6), SCENE, START, COURSE)
        for finding in result.findings + result.alternatives:
            if finding.parameter == "turn_bias" and len(result.findings) == 1:
                seen += 1
                hits += abs(finding.size - 4.0) <= 1.959964 * finding.uncertainty
    assert seen > 300
    assert hits / seen > 0.91


@pytest.mark.parametrize("reference", ["absolute", "relative"])
@pytest.mark.parametrize(
    "manner",
    [
        Manner(distance_scale=1.04),
        Manner(turn_scale=0.95),
        Manner(turn_bias_deg=3.0),
        Manner(turn_bias_deg=-3.0),
        Manner(drift_deg_per_m=4.0),
    ],
)
def test_the_corrected_numbers_land_where_the_course_was_meant_to(reference, manner):
    scene = replace(SCENE, noise=replace(SILENT, yaw_reference=reference))
    rng = np.random.default_rng(0)
    named = {
        "distance_scale": manner.distance_scale - 1,
        "turn_scale": manner.turn_scale - 1,
        "turn_bias": manner.turn_bias_deg,
        "drift": manner.drift_deg_per_m,
    }
    start = Pose(120, 120, 0)  # so that every leg has a turn before it that can be corrected
    course = (*through(start, [(120, 700), (900, 300), (1400, 600), (1600, 600)]), Push(90))
    corrected = corrected_actions(course, {k: v for k, v in named.items() if v}, reference)
    before = simulate_run(scene, start, course, manner, scene.noise, rng)
    after = simulate_run(scene, start, corrected, manner, scene.noise, rng)
    miss_before = math.hypot(before.along_mm, before.lateral_mm)
    miss_after = math.hypot(after.along_mm, after.lateral_mm)
    assert miss_before > 15
    assert miss_after < 0.12 * miss_before
    assert abs(after.heading_error_deg) < 1.2


def test_a_diagnosed_course_carries_its_corrected_numbers():
    result = diagnose_one(logged(np.random.default_rng(6), Manner(distance_scale=1.05), 6), SCENE, START, COURSE)
    assert result.findings[0].parameter == "distance_scale"
    drives = [a.distance_mm for a in result.corrected if isinstance(a, Drive)]
    told = [a.distance_mm for a in COURSE if isinstance(a, Drive)]
    assert drives[0] == pytest.approx(told[0] / (1 + result.findings[0].size))
    assert "corrected numbers" in result.advice or "cannot tell" in result.advice


def test_under_three_runs_nothing_is_claimed():
    misses = [Miss(80.0, 60.0, 9.0)] * 2
    result = diagnose_one(misses, SCENE, START, COURSE)
    assert result.verdict == "too_few"
    assert result.findings == ()
    assert "1 more run lands" in result.advice
    assert diagnose_one([], SCENE, START, COURSE).verdict == "too_few"


def test_runs_without_measures_do_not_count():
    result = diagnose_one([Miss()] * 9, SCENE, START, COURSE)
    assert result.verdict == "too_few"
    assert result.runs == 0
    assert result.evidence == "No run has a measured miss yet."


def test_a_miss_with_only_its_side_known_is_still_evidence():
    side = [Miss(lateral_mm=value) for value in (80.0, 84.0, 77.0, 81.0)]
    result = diagnose_one(side, SCENE, START, COURSE)
    assert result.verdict == "pattern"
    assert len(result.alternatives) >= 1, "one number cannot tell several causes apart"
    assert "cannot tell the causes apart" in result.advice


def test_two_courses_tell_apart_what_one_cannot():
    rng = np.random.default_rng(7)
    straight = (*through(START, [(120, 600), (1600, 600)]), Push(90))
    manner = Manner(turn_bias_deg=4.0)
    together = diagnose(
        [
            Logged(SCENE, START, COURSE, tuple(logged(rng, manner, 5))),
            Logged(SCENE, START, straight, tuple(logged(rng, manner, 5, course=straight))),
        ]
    )
    alone = diagnose_one(logged(rng, manner, 5), SCENE, START, COURSE)
    assert together.verdict == "pattern"
    assert together.posterior_sd[5] < alone.posterior_sd[5]
    assert together.runs == 10


def test_a_miss_is_read_at_the_nose():
    """Where a robot that stands 4 degrees askew at its start would swing its nose: by 4 degrees of its way from there."""
    ahead, left = 1600 + 90 + 200 - START.x_mm, 600 + 15 - START.y_mm
    slope = math.radians(4.0)
    misses = [Miss(ahead * slope + d, -left * slope - d, 4.0) for d in (-2.0, 0.0, 2.0, 1.0)]
    result = diagnose_one(misses, SCENE, START, COURSE)
    causes = {f.parameter: f for f in (*result.findings, *result.alternatives)}
    assert causes["start_heading"].size == pytest.approx(4.0, abs=0.6)


def test_nonsense_is_refused_with_a_place():
    for misses, code in [
        ([Miss(math.nan, 1.0, 1.0)] * 3, "not_finite"),
        ([Miss(5000.0)] * 3, "absurd"),
        ([Miss(heading_deg=300.0)] * 3, "absurd"),
    ]:
        with pytest.raises(FitError) as raised:
            diagnose_one(misses, SCENE, START, COURSE)
        assert raised.value.code == code
        assert raised.value.place == "misses[0]"
    with pytest.raises(FitError):
        diagnose([])
    with pytest.raises(FitError):
        diagnose_one([], SCENE, START, COURSE, Prior(drift_deg_per_m=0.0))
    with pytest.raises(MotionError):
        diagnose_one([], SCENE, START, (Turn(90, 180),))


def test_a_robot_without_noise_and_without_misses_has_no_pattern():
    scene = replace(SCENE, noise=SILENT)
    result = diagnose_one([Miss(0.0, 0.0, 0.0)] * 5, scene, START, COURSE)
    assert result.verdict == "no_pattern"
    assert result.corrected == COURSE
