"""The weights of a diagnosis against the plain marginal likelihood, and the exact edges between one verdict and the next."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import multivariate_normal

from motion.calibration import diagnosis
from motion.calibration.diagnosis import ALIKE, FEWEST_RUNS, SURE, diagnose
from motion.calibration.diagnosis_causes import Prior, runs_of
from motion.calibration.diagnosis_weights import (
    RUNS_FOR_A_SLIP,
    SLIP_ODDS,
    SLIP_SD,
    WIDER,
    RunScatter,
    Weights,
    scatter_of,
    weigh,
)
from motion.calibration.diagnosis_words import advice_for, corrected_actions, mean_in_words
from motion.chance.landing import landing_errors, parameter_jacobian
from motion.chance.logged import READING_SD, Logged, Miss
from motion.course.actions import Drive, Push, Turn
from motion.errors import FitError
from motion.scene.records import Pose
from tests.motion.scenes import plain_scene

SCENE = plain_scene()
START = Pose(120, 120, 0)
COURSE = (Drive(600), Turn(30, 30), Drive(400), Turn(-30, 0), Push(90))
FULL = [Miss(12.0, -7.0, 3.0), Miss(15.0, -3.0, 2.0), Miss(9.0, -4.0, 5.0)]
#: How departures usually are, as the documentation of the prior has them.
SDS = np.array([0.03, 8.0, 8.0, 2.0, 0.03, 3.0, 3.0, 15.0, 15.0, 3.0, 0.02])


def logged(misses, actions=COURSE):
    return Logged(SCENE, START, tuple(actions), tuple(misses))


def of_one_run():
    """Mean, covariance and slope of what is read of a run, put together apart from the diagnosis."""
    errors = landing_errors(SCENE, START, COURSE)
    read = np.diag([1.0, 1.0, 180 / math.pi])
    covariance = read @ errors.covariance @ read + np.diag([9.0, 9.0, 2.25])
    slope = np.hstack([parameter_jacobian(SCENE, START, COURSE), -np.eye(3)])
    return read @ errors.mean, covariance, slope


def test_the_bars_are_what_they_say():
    assert diagnosis.CLAIM == 6.0
    assert pytest.approx(math.log(10)) == ALIKE
    assert (FEWEST_RUNS, SURE, RUNS_FOR_A_SLIP) == (3, 0.9, 4)
    assert READING_SD == (3.0, 3.0, 1.5)
    assert SLIP_SD == (200.0, 200.0, 20.0)
    assert pytest.approx(-math.log(20)) == SLIP_ODDS
    assert WIDER.tolist() == [1.0, 1.25, 1.6, 2.0, 2.5, 3.2, 4.0]


def test_the_prior_has_its_spreads_in_the_order_of_the_causes():
    assert Prior().sds() == pytest.approx(SDS)
    assert Prior(1, 2, 3, 4, 5, 6, 7, 8, 9, 10).sds() == pytest.approx([1, 2, 3, 4, 5, 6, 7, 8, 8, 9, 10])


# What the runs tell


@pytest.mark.parametrize("seen", [(0, 1, 2), (0,), (1,), (2,), (0, 2), (1, 2)])
def test_a_weight_is_the_marginal_likelihood_of_all_misses(seen):
    """With the noise at each width, the causes' spread on top, and a slip as wide as slips are; then all widths averaged."""
    told = [
        Miss(*(v if k in seen else None for k, v in zip((1, 0, 2), values, strict=True)))
        for values in ((12.0, -7.0, 3.0), (15.0, -3.0, 2.0), (9.0, 2.0, -1.0), (-110.0, 60.0, 9.0))
    ]
    runs = runs_of([logged([*told, Miss()])])
    found = weigh(runs, SDS, range(10))
    mean, noise, slope = of_one_run()
    axes = list(seen)
    y = [np.array([(one.along_mm, one.lateral_mm, one.heading_deg)[k] for k in axes]) for one in told]
    y = [row - mean[axes] for row in y]
    own, far = noise[np.ix_(axes, axes)], np.diag([4e4, 4e4, 4e2])[np.ix_(axes, axes)]
    chances = np.array([0.5**k for k in range(len(WIDER))])
    chances /= chances.sum()

    def plain(subset, slip):
        kept = [row for k, row in enumerate(y) if k != slip]
        j = np.tile(slope[axes], (len(kept), 1))[:, list(subset)]
        each = []
        for w, chance in zip(WIDER, chances, strict=True):
            wide = np.kron(np.eye(len(kept)), own * w**2) + j @ np.diag(SDS[list(subset)] ** 2) @ j.T
            log = multivariate_normal(np.zeros(len(wide)), wide).logpdf(np.concatenate(kept))
            if slip is not None:
                log += multivariate_normal(np.zeros(len(axes)), own * w**2 + far).logpdf(y[slip]) - math.log(20)
            each.append(log + math.log(chance))
        return logsumexp(each)

    assert found.slips == [(), (0,), (1,), (2,), (3,)]
    subsets = [(), *((k,) for k in range(10)), *combinations(range(10), 2)]
    assert found.causes == subsets
    for column, subset in enumerate(subsets):
        for row, slip in enumerate((None, 0, 1, 2, 3)):
            assert found.table[row, column] == pytest.approx(plain(subset, slip), abs=1e-6)


def test_what_a_cause_weighs_counts_every_slip_there_may_be():
    table = np.log(np.array([[1.0, 2.0], [3.0, 10.0]]))
    found = Weights([(), (0,)], [(), (4,)], table)
    assert found.of(()) == 0.0
    assert found.of((4,)) == pytest.approx(math.log(12 / 4))
    assert found.slipped((), 0.74) == (0,) and found.slipped((), 0.76) == ()
    assert found.slipped((4,), 0.8) == (0,)
    certain = Weights([(), (0,)], [()], np.array([[-math.inf], [0.0]]))
    assert certain.slipped((), 1.0) == (0,), "at least so probable"


def test_two_slips_are_looked_for_among_eight_runs_and_one_among_seven():
    misses = [Miss(1.0 * k, 0.0, 0.0) for k in range(8)]
    assert max(map(len, weigh(runs_of([logged(misses)]), SDS, range(10)).slips)) == 2
    assert max(map(len, weigh(runs_of([logged(misses[:7])]), SDS, range(10)).slips)) == 1
    assert weigh(runs_of([logged(misses[:3])]), SDS, range(10)).slips == [()]


def test_the_scatter_is_that_about_the_mean_of_runs_read_alike():
    _, noise, _ = of_one_run()
    side = [Miss(lateral_mm=value) for value in (10.0, 14.0)]
    found = scatter_of(runs_of([logged([*FULL, *side, Miss(), Miss(heading_deg=2.0)])]))
    rows = np.array([[-7.0, 12.0, 3.0], [-3.0, 15.0, 2.0], [-4.0, 9.0, 5.0]])
    off = rows - rows.mean(axis=0)
    square = sum(row @ np.linalg.inv(noise) @ row for row in off) + 8.0 / noise[1, 1]
    assert found.square == pytest.approx(square)
    assert found.degrees == 2 * 3 + 1


@pytest.mark.parametrize(
    ("square", "degrees", "inflation", "wider"),
    [
        (0.0, 0, 1.0, False),
        (3.0, 2, 1.5, False),
        (1.0, 2, 1.0, False),
        # The upper 1 % of chi-squared: 6.635, 13.277 and 20.090 (tables of the distribution, to three decimals).
        (6.63, 1, 6.63, False),
        (6.64, 1, 6.64, True),
        (13.27, 4, 13.27 / 4, False),
        (13.28, 4, 3.32, True),
        (20.08, 8, 2.51, False),
        (20.10, 8, 20.10 / 8, True),
    ],
)
def test_scatter_is_wider_than_the_noise_at_one_per_cent(square, degrees, inflation, wider):
    assert RunScatter(square, degrees).inflation == pytest.approx(inflation)
    assert RunScatter(square, degrees).wider == wider


def test_wide_scatter_makes_the_posterior_as_much_wider():
    wide = [Miss(12.0 + d, -7.0 + 2 * d, 3.0 - d / 3) for d in (-30.0, 0.0, 30.0)]
    inflate = scatter_of(runs_of([logged(wide)])).inflation
    assert inflate > 2
    found = diagnose([logged(wide)])
    assert found.posterior_mean == pytest.approx(posterior_of(wide, inflate)[0])
    assert found.posterior_sd == pytest.approx(posterior_of(wide, inflate)[1])


def posterior_of(misses, inflate):
    mean, noise, slope = of_one_run()
    slope, inverse = slope[:, :7], np.linalg.inv(noise * inflate)
    rest = [np.array([m.along_mm, m.lateral_mm, m.heading_deg]) - mean for m in misses]
    joint = np.linalg.inv(len(misses) * slope.T @ inverse @ slope + np.diag(SDS[:7] ** -2.0))
    return joint @ sum(slope.T @ inverse @ row for row in rest), np.sqrt(np.diag(joint))


def test_what_slipped_has_no_part_in_the_posterior():
    steady = [Miss(12.0, -7.0, 3.0), Miss(15.0, -3.0, 2.0), Miss(9.0, -4.0, 5.0), Miss(10.0, -5.0, 3.0)]
    found = diagnose([logged([*steady[:2], Miss(-190.0, 250.0, 20.0), *steady[2:]])])
    assert found.slips == ((0, 2),)
    assert found.runs == 5
    assert found.posterior_mean == pytest.approx(diagnose([logged(steady)]).posterior_mean)


def test_two_courses_add_up():
    other = (Drive(900), Push(90))
    found = diagnose([logged(FULL), logged(FULL[:2], other)])
    assert found.runs == 5
    assert found.evidence == mean_in_words([*FULL, *FULL[:2]], 5)
    assert (np.array(found.posterior_sd) < np.array(diagnose([logged(FULL)]).posterior_sd)).all()


# The edges, with weights set by hand


def judged(monkeypatch, weights, misses=FULL, slips=()):
    """Weights of causes against none; a set of slips weighs as little as nothing unless it is the one that is given."""

    def by_hand(runs, sds, known):
        causes = [(), *((k,) for k in known), *combinations(known, 2)]
        row = np.array([0.0 if not c else weights.get(c, -50.0) for c in causes])
        return Weights([slips], causes, row[None])

    monkeypatch.setattr(diagnosis, "weigh", by_hand)
    return diagnose([logged(misses)])


def named(found):
    return found.verdict, {one.parameter for one in found.findings}, [one.parameter for one in found.alternatives]


NO_PATTERN = "no_pattern", set(), []
#: Six for each of ten causes and the target's place.
CLAIM = math.log(66)
PAIR = CLAIM + math.log(11)


@pytest.mark.parametrize(
    ("weights", "found"),
    [
        ({(3,): CLAIM + 1e-4}, ("pattern", {"start_heading"}, [])),
        ({(3,): CLAIM - 1e-4}, NO_PATTERN),
        ({(3,): CLAIM - 1e-4, (3, 5): PAIR + 1e-4}, ("pattern", {"start_heading", "turn_bias"}, [])),
        ({(3,): CLAIM - 1e-4, (3, 5): PAIR - 1e-4}, NO_PATTERN),
        ({(3,): 5.0, (3, 5): 5.0 + CLAIM + 1e-4}, ("pattern", {"start_heading", "turn_bias"}, [])),
        ({(3,): 5.0, (3, 5): 5.0 + CLAIM - 1e-4}, ("pattern", {"start_heading"}, [])),
        ({(3,): 5.0, (0, 5): 9 * CLAIM}, ("pattern", {"start_heading"}, [])),
        ({(3,): 5.0, (0, 3): 30.0, (3, 6): 20.0}, ("pattern", {"start_heading", "distance_scale"}, [])),
        ({(3,): 9.0, (5,): 9.0 - ALIKE + 1e-4}, ("pattern", {"start_heading"}, ["turn_bias"])),
        ({(3,): 9.0, (5,): 9.0 - ALIKE - 1e-4}, ("pattern", {"start_heading"}, [])),
        ({(3,): 9.0, (0,): 8.0, (5,): 8.5}, ("pattern", {"start_heading"}, ["turn_bias", "distance_scale"])),
        ({(3,): 9.0, (5,): 8.9, (3, 6): 9.0 + CLAIM + 1e-4}, ("pattern", {"start_heading", "drift"}, [])),
        # Where the target stands is one cause with two numbers.
        ({(7, 8): CLAIM + 1e-4}, ("pattern", {"target_along", "target_lateral"}, [])),
        ({(7, 8): CLAIM - 1e-4}, NO_PATTERN),
        ({(7, 8): 9.0, (7,): 8.9, (3,): 8.0}, ("pattern", {"target_along", "target_lateral"}, ["start_heading"])),
        ({(8, 9): CLAIM + 1e-4}, NO_PATTERN),
    ],
)
def test_what_is_claimed_hangs_on_the_weights_alone(monkeypatch, weights, found):
    assert named(judged(monkeypatch, weights)) == found


def test_the_target_is_listed_once_however_it_may_have_moved(monkeypatch):
    for both, one in ((8.5, 8.0), (8.0, 8.5)):
        found = judged(monkeypatch, {(3,): 9.0, (8,): one, (7, 8): both})
        assert [each.parameter for each in found.alternatives].count("target_lateral") <= 1


def test_a_cause_and_what_it_cannot_be_told_from_stand_in_one_sentence(monkeypatch):
    found = judged(monkeypatch, {(3,): 9.0, (5,): 8.5, (0,): 8.0})
    first, (second, third) = found.findings[0].sentence, (one.sentence for one in found.alternatives)
    assert found.sentence == f"I{first[1:]}; or else {second}, or {third}."
    assert [one.weight for one in (*found.findings, *found.alternatives)] == [9.0, 8.5, 8.0]
    assert found.advice == advice_for(found.findings, found.alternatives)


def test_two_causes_stand_in_one_sentence_the_surest_first(monkeypatch):
    found = judged(monkeypatch, {(3,): 5.0, (3, 5): 15.0})
    first, second = found.findings
    assert abs(first.size) / first.uncertainty >= abs(second.size) / second.uncertainty
    assert found.sentence == f"{first.sentence[0].upper()}{first.sentence[1:]} and {second.sentence}."
    assert {one.weight for one in found.findings} == {15.0}
    sizes = {one.parameter: one.size for one in found.findings}
    assert found.corrected == tuple(corrected_actions(COURSE, sizes, SCENE.noise.yaw_reference))


def test_no_pattern_in_full(monkeypatch):
    along, left, turned = of_one_run()[0]  # where this course is expected to land
    found = judged(monkeypatch, {}, [Miss(left + d, along - d, turned) for d in (-4.0, 1.0, 3.0)])
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
        assert len(runs_of([logged([miss])])) == 1
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
        Prior(target_mm=0.0),
        Prior(battery=math.nan),
    ):
        with pytest.raises(FitError) as refused:
            diagnose([logged(FULL)], prior)
        assert (refused.value.code, refused.value.message, refused.value.place) == (
            "bad_sd",
            "Every spread of the prior is a positive number.",
            "prior",
        )
