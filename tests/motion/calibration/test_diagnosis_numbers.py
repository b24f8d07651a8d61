"""The weights of a diagnosis against the plain marginal likelihood, and the exact edges between one verdict and the next."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from motion.calibration import diagnosis
from motion.calibration.diagnosis import (
    ALIKE,
    CLAIM,
    Logged,
    Miss,
    Prior,
    _Facts,
    _findings,
    _gather,
    _inflation,
    _weigh,
    diagnose,
)
from motion.chance.error import landing_errors, parameter_jacobian
from motion.course.actions import Drive, Push, Turn
from motion.errors import FitError
from motion.scene.records import Pose
from tests.motion.scenes import plain_scene

SCENE = plain_scene()
START = Pose(120, 120, 0)
COURSE = (Drive(600), Turn(30, 30), Drive(400), Turn(-30, 0), Push(90))
FRONT_MM = 150.0
FULL = [Miss(12.0, -7.0, 3.0), Miss(15.0, -3.0, 2.0), Miss(9.0, -4.0, 5.0)]
#: How departures usually are, as the documentation of the prior has them.
SDS = np.array([0.03, 8.0, 8.0, 2.0, 0.03, 3.0, 3.0])
NONE = _Facts(np.zeros((7, 7)), np.zeros(7), 0.0, 0, 0)


def logged(misses, actions=COURSE):
    return Logged(SCENE, START, tuple(actions), tuple(misses))


def of_one_run(front_mm):
    """Mean, covariance and slope of what is read of a run, worked out apart from the diagnosis."""
    errors = landing_errors(SCENE, START, COURSE)
    read = np.array([[1, 0, 0], [0, 1, front_mm], [0, 0, 180 / math.pi]])
    covariance = read @ errors.covariance @ read.T + np.diag([9.0, 9.0, 2.25])
    return read @ errors.mean, covariance, parameter_jacobian(SCENE, START, COURSE, front_mm=front_mm)


def test_the_bars_are_twenty_to_one_for_each_of_seven_causes_and_ten_to_one():
    assert pytest.approx(math.log(140)) == CLAIM
    assert pytest.approx(math.log(10)) == ALIKE
    assert diagnosis.FEWEST_RUNS == 3
    assert diagnosis.READING_SD == (3.0, 3.0, 1.5)


def test_the_prior_has_its_spreads_in_the_order_of_the_parameters():
    assert Prior().sds() == pytest.approx(SDS)
    assert Prior(1, 2, 3, 4, 5, 6, 7).sds() == pytest.approx(np.arange(1, 8))


# What the runs tell


@pytest.mark.parametrize("front_mm", [0.0, FRONT_MM])
@pytest.mark.parametrize("seen", [(0, 1, 2), (0,), (1,), (2,), (0, 2), (1, 2)])
def test_a_weight_is_the_ratio_of_the_marginal_likelihoods(front_mm, seen):
    """Of all misses at once: normal with the noise alone, and with the cause's spread on top."""
    told = [Miss(*(v if k in seen else None for k, v in zip((1, 0, 2), values, strict=True))) for values in
            ((12.0, -7.0, 3.0), (15.0, -3.0, 2.0))]  # fmt: skip
    facts = _gather(logged([*told, Miss()]), front_mm)
    mean, noise, slope = of_one_run(front_mm)
    axes = list(seen)
    y = np.concatenate([np.array([(one.along_mm, one.lateral_mm, one.heading_deg)[k] for k in axes]) for one in told])
    alone = np.kron(np.eye(2), noise[np.ix_(axes, axes)])
    both = np.tile(slope[axes], (2, 1))
    middle = np.tile(mean[axes], 2)
    none = multivariate_normal(middle, alone).logpdf(y)
    for subset in [(k,) for k in range(7)] + list(combinations(range(7), 2)):
        j = both[:, list(subset)]
        wider = alone + j @ np.diag(SDS[list(subset)] ** 2) @ j.T
        ratio = multivariate_normal(middle, wider).logpdf(y) - none
        assert _weigh(facts.h, facts.g, SDS, subset) == pytest.approx(ratio, abs=1e-6)
    assert facts.runs == 2


def test_the_scatter_is_that_about_the_mean_of_runs_read_alike():
    _, noise, _ = of_one_run(0.0)
    side = [Miss(lateral_mm=value) for value in (10.0, 14.0)]
    facts = _gather(logged([*FULL, *side, Miss(), Miss(heading_deg=2.0)]), 0.0)
    rows = np.array([[-7.0, 12.0, 3.0], [-3.0, 15.0, 2.0], [-4.0, 9.0, 5.0]])
    off = rows - rows.mean(axis=0)
    scatter = sum(row @ np.linalg.inv(noise) @ row for row in off) + 8.0 / noise[1, 1]
    assert facts.scatter == pytest.approx(scatter)
    assert (facts.degrees, facts.runs) == (2 * 3 + 1, 6)


@pytest.mark.parametrize(
    ("facts", "wider"),
    [
        ([(0.0, 0)], 1.0),
        ([(9.0, 0)], 1.0),
        ([(3.0, 2)], 1.5),
        ([(1.0, 2)], 1.0),
        ([(3.0, 2), (9.0, 1)], 4.0),
        ([(1.0, 1)], 1.0),
    ],
)
def test_runs_that_scatter_more_than_the_noise_says_count_for_less(facts, wider):
    assert _inflation([_Facts(NONE.h, NONE.g, scatter, degrees, 3) for scatter, degrees in facts]) == wider


def test_wide_scatter_makes_the_posterior_as_much_wider():
    wide = [Miss(12.0 + d, -7.0 + 2 * d, 3.0 - d / 3) for d in (-30.0, 0.0, 30.0)]
    facts = _gather(logged(wide), FRONT_MM)
    inflate = facts.scatter / facts.degrees
    assert inflate > 2
    joint = np.linalg.inv(facts.h / inflate + np.diag(SDS**-2.0))
    found = diagnose([logged(wide)], front_mm=FRONT_MM)
    assert found.posterior_sd == pytest.approx(np.sqrt(np.diag(joint)))
    assert found.posterior_mean == pytest.approx(joint @ facts.g / inflate)
    assert diagnose([logged(wide)]).posterior_mean != pytest.approx(found.posterior_mean, rel=0.01)


def test_two_courses_add_up():
    other = (Drive(900), Push(90))
    a, b = _gather(logged(FULL), 0.0), _gather(logged(FULL[:2], other), 0.0)
    inflate = max(1.0, (a.scatter + b.scatter) / (a.degrees + b.degrees))
    joint = np.linalg.inv((a.h + b.h) / inflate + np.diag(SDS**-2.0))
    found = diagnose([logged(FULL), logged(FULL[:2], other)])
    assert found.runs == 5
    assert found.posterior_mean == pytest.approx(joint @ (a.g + b.g) / inflate)
    assert found.evidence == diagnosis.mean_in_words([*FULL, *FULL[:2]], 5)


def test_causes_are_named_most_certain_first_with_their_size_and_uncertainty():
    h, g = np.zeros((7, 7)), np.zeros(7)
    h[0, 0], h[5, 5] = 3 / 0.03**2, 3 / 9.0
    g[0], g[5] = 4 * 0.01 / 0.03**2, -4 * 6.0 / 9.0
    first, second = _findings(h, g, SDS, (0, 5), 7.5)
    assert (first.parameter, first.unit, first.weight) == ("turn_bias", "deg per turn", 7.5)
    assert (first.size, first.uncertainty) == (pytest.approx(-6.0), pytest.approx(1.5))
    assert first.sentence == "turns come out 6.0 ± 1.5 degrees too small"
    assert (second.parameter, second.unit) == ("distance_scale", "fraction")
    assert (second.size, second.uncertainty) == (pytest.approx(0.01), pytest.approx(0.015))


# The edges, with weights set by hand


def judged(monkeypatch, weights, misses=FULL):
    monkeypatch.setattr(diagnosis, "_weigh", lambda h, g, sds, subset: weights.get(subset, -50.0))
    return diagnose([logged(misses)])


def named(found):
    return found.verdict, {one.parameter for one in found.findings}, [one.parameter for one in found.alternatives]


NO_PATTERN = "no_pattern", set(), []
PAIR = CLAIM + math.log(7)


@pytest.mark.parametrize(
    ("weights", "found"),
    [
        ({(3,): CLAIM}, ("pattern", {"start_heading"}, [])),
        ({(3,): CLAIM - 1e-4}, NO_PATTERN),
        ({(3,): CLAIM - 1e-4, (3, 5): PAIR + 1e-4}, ("pattern", {"start_heading", "turn_bias"}, [])),
        ({(3,): CLAIM - 1e-4, (3, 5): PAIR - 1e-4}, NO_PATTERN),
        ({(3,): CLAIM, (3, 5): 2 * CLAIM}, ("pattern", {"start_heading", "turn_bias"}, [])),
        ({(3,): CLAIM, (3, 5): 2 * CLAIM - 1e-4}, ("pattern", {"start_heading"}, [])),
        ({(3,): CLAIM, (0, 5): 9 * CLAIM}, ("pattern", {"start_heading"}, [])),
        ({(3,): CLAIM, (0, 3): 3 * CLAIM, (3, 6): 2 * CLAIM}, ("pattern", {"start_heading", "distance_scale"}, [])),
        ({(3,): 9.0, (5,): 9.0 - ALIKE + 1e-4}, ("pattern", {"start_heading"}, ["turn_bias"])),
        ({(3,): 9.0, (5,): 9.0 - ALIKE - 1e-4}, ("pattern", {"start_heading"}, [])),
        ({(3,): 9.0, (0,): 8.0, (5,): 8.5}, ("pattern", {"start_heading"}, ["turn_bias", "distance_scale"])),
        ({(3,): 9.0, (5,): 8.9, (3, 6): 9.0 + CLAIM + 1e-4}, ("pattern", {"start_heading", "drift"}, [])),
    ],
)
def test_what_is_claimed_hangs_on_the_weights_alone(monkeypatch, weights, found):
    assert named(judged(monkeypatch, weights)) == found


def test_a_cause_and_what_it_cannot_be_told_from_stand_in_one_sentence(monkeypatch):
    found = judged(monkeypatch, {(3,): 9.0, (5,): 8.5, (0,): 8.0})
    first, (second, third) = found.findings[0].sentence, (one.sentence for one in found.alternatives)
    assert found.sentence == f"I{first[1:]}; or else {second}, or {third}."
    assert [one.weight for one in (*found.findings, *found.alternatives)] == [9.0, 8.5, 8.0]
    assert found.advice == diagnosis.advice_for(found.findings, found.alternatives)


def test_two_causes_stand_in_one_sentence(monkeypatch):
    found = judged(monkeypatch, {(3,): CLAIM, (3, 5): 2 * CLAIM})
    first, second = (one.sentence for one in found.findings)
    assert found.sentence == f"{first[0].upper()}{first[1:]} and {second}."
    assert {one.weight for one in found.findings} == {2 * CLAIM}
    assert found.corrected == diagnosis_of_both(found)


def diagnosis_of_both(found):
    sizes = {one.parameter: one.size for one in found.findings}
    return tuple(diagnosis.corrected_actions(COURSE, sizes, SCENE.noise.yaw_reference))


def test_no_pattern_in_full(monkeypatch):
    found = judged(monkeypatch, {})
    assert (found.sentence, found.advice) == (
        "No pattern: the misses scatter as widely as this robot always does.",
        "Change no numbers yet. Set the robot down more exactly, or draw a course that lands more steadily.",
    )
    assert found.corrected == COURSE and found.runs == 3


@pytest.mark.parametrize(
    ("runs", "advice"),
    [
        (0, "Measure where 3 more runs land."),
        (1, "Measure where 2 more runs land."),
        (2, "Measure where 1 more run lands."),
    ],
)
def test_too_few_in_full(monkeypatch, runs, advice):
    found = judged(monkeypatch, {(3,): 99.0}, [*FULL[:runs], Miss()])
    assert (found.verdict, found.sentence, found.advice) == ("too_few", "Too few measured runs to tell.", advice)
    assert (found.findings, found.alternatives, found.corrected, found.runs) == ((), (), COURSE, runs)


# What is refused


@pytest.mark.parametrize(
    ("miss", "code"),
    [
        (Miss(2000.0, -2000.0, 180.0), None),
        (Miss(lateral_mm=2000.1), "absurd"),
        (Miss(lateral_mm=-2000.1), "absurd"),
        (Miss(along_mm=2000.1), "absurd"),
        (Miss(heading_deg=-180.1), "absurd"),
        (Miss(1.0, math.inf, 1.0), "not_finite"),
    ],
)
def test_a_miss_is_a_number_of_up_to_two_metres_and_half_a_turn(miss, code):
    words = {
        "absurd": "A miss is over 2 m or half a turn; check its unit.",
        "not_finite": "A miss is not a number; correct it or leave it empty.",
    }
    if code is None:
        assert _gather(logged([miss]), 0.0).runs == 1
        return
    with pytest.raises(FitError) as refused:
        diagnose([logged([FULL[0], miss])])
    assert (refused.value.code, refused.value.message, refused.value.place) == (code, words[code], "misses[1]")


def test_no_course_and_a_prior_that_is_none_are_refused_in_words():
    with pytest.raises(FitError) as refused:
        diagnose([])
    assert (refused.value.code, refused.value.message) == (
        "too_few",
        "There is no course to look at; log runs of a course first.",
    )
    for prior in (
        Prior(turn_bias_deg=0.0),
        Prior(turn_scale=-1.0),
        Prior(start_x_mm=math.nan),
        Prior(drift_deg_per_m=math.inf),
    ):
        with pytest.raises(FitError) as refused:
            diagnose([logged(FULL)], prior)
        assert (refused.value.code, refused.value.message, refused.value.place) == (
            "bad_sd",
            "Every spread of the prior is a positive number.",
            "prior",
        )
