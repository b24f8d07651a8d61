"""Readings of calibrations, and hypotheses that are weighed by them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from motion.calibration import fit_set_down, fit_spin, fit_straight
from motion.calibration.knowledge import ANY_DRIFT_U, Fits, knowledge_from_fits
from motion.calibration.taken import Taken, readings_of
from motion.chance.error import DRIFT, SCALE, TURN_BIAS, TURN_SCALE
from motion.chance.hypotheses import SPREADS, Knowledge, drawn
from motion.scene.records import Systematic
from tests.oracles.measuring import Played, set_downs, straight_runs, turns

TWO_LENGTHS, TWO_TURNS = [500.0] * 5 + [1200.0] * 5, [90.0] * 5 + [720.0] * 5


def known(robot: Played, rng: np.random.Generator) -> Knowledge:
    runs, came = straight_runs(robot, TWO_LENGTHS, rng), turns(robot, TWO_TURNS, rng)
    measured, sideways = zip(*runs, strict=True)
    taken = Taken(
        straight=tuple((told, *run) for told, run in zip(TWO_LENGTHS, runs, strict=True)),
        spin=tuple(zip(TWO_TURNS, came, strict=True)),
    )
    fits = Fits(fit_straight(TWO_LENGTHS, measured, sideways_mm=sideways), fit_spin(TWO_TURNS, came))
    return knowledge_from_fits(fits, taken=taken)[0]


def test_each_run_is_read_for_its_length_and_for_how_far_it_strayed():
    taken = Taken(straight=((1000.0, 985.0, 20.0), (-500.0, -490.0, None)))
    length, strayed, backing = readings_of(taken, Systematic(drift_deg_per_m=1.0), 0.98, 1.0)
    assert (length.off, backing.off) == pytest.approx((5.0, 0.0))
    assert strayed.off == pytest.approx(20.0 - np.radians(1.0) * 500.0)
    assert [length.slope[SCALE], strayed.slope[DRIFT]] == pytest.approx([980.0, np.radians(1.0) * 500.0])
    assert [name for name, share in zip(SPREADS, strayed.shares, strict=True) if share] == [
        "start_heading_sd_deg",
        "drift_sd_deg_per_m",
    ]


def test_a_spin_is_read_against_scale_and_bias_in_its_own_direction():
    taken = Taken(spin=((-720.0, -700.0),))
    (spin,) = readings_of(taken, Systematic(turn_bias_deg=2.0), 1.0, 0.98)
    assert spin.off == pytest.approx(-700.0 + 720.0 * 0.98 + 2.0)
    assert (spin.slope[TURN_SCALE], spin.slope[TURN_BIAS]) == pytest.approx((-705.6, -1.0))
    assert dict(zip(SPREADS, spin.shares, strict=True))["turn_growth_sd_deg"] == pytest.approx(8.0)


def test_set_downs_tell_a_spread_as_the_conjugate_posterior_has_it():
    """Of a normal's variance, given a scaled inverse chi-squared before: Gelman et al., Bayesian Data Analysis, 2.6."""
    down = set_downs(20.0, 20.0, 6.0, 150.0, 12, np.random.default_rng(3), at=(30.0, -10.0, 4.0))
    ahead, front, back = np.array(down).T
    taken = Taken(set_down=tuple(down), marks_apart_mm=150.0)
    knowledge, _ = knowledge_from_fits(Fits(set_down=fit_set_down(ahead, front, back, 150.0)), taken=taken)
    robots = drawn(knowledge, count=2048)
    heading = np.degrees(np.arcsin((front - back) / 150.0))
    for k, squares, freedom, nominal in (
        (1, ahead.var() + ((front + back) / 2).var(), 22, 3.0),
        (2, heading.var(), 11, 1.0),
    ):
        total = 12 * squares + 4 * nominal**2
        expected = np.sqrt(total / stats.chi2.ppf([0.9, 0.5, 0.1], freedom + 4))
        assert np.quantile(robots.spreads[:, k], [0.1, 0.5, 0.9]) == pytest.approx(expected, rel=0.03)


def test_where_all_set_downs_stand_off_says_nothing_of_their_spread():
    near, far = (
        readings_of(
            Taken(set_down=((at, at, at), (at + 2, at, at), (at, at + 3, at - 1)), marks_apart_mm=150.0),
            Systematic(),
            1.0,
            1.0,
        )
        for at in (0.0, 50.0)
    )
    assert [reading.off for reading in near] == pytest.approx([reading.off for reading in far], abs=1e-9)


def test_many_readings_leave_the_scales_where_least_squares_has_them():
    knowledge = known(Played(scale=0.97, turn_scale=1.02, turn_bias_deg=2.0), np.random.default_rng(4))
    robots = drawn(knowledge)
    off = (robots.systematic - np.array([knowledge.mean.distance_scale, *[0] * 3, knowledge.mean.turn_scale, 0, 0]))[
        :, [SCALE, TURN_SCALE]
    ]
    u = np.array([knowledge.u.distance_scale, knowledge.u.turn_scale])
    assert (np.abs(off.mean(0)) < 0.4 * u).all()
    assert (off.std(0) < 1.2 * u).all()


def test_runs_of_one_length_do_not_tell_a_curve_from_how_they_were_set_down():
    rng, wide = np.random.default_rng(5), []
    for lengths in ([800.0] * 40, TWO_LENGTHS * 4):
        runs = straight_runs(Played(set_down_sd_deg=0.1, drift_sd_deg_per_m=0.1), lengths, rng)
        measured, sideways = zip(*runs, strict=True)
        taken = Taken(straight=tuple((told, *run) for told, run in zip(lengths, runs, strict=True)))
        fits = Fits(fit_straight(lengths, measured, sideways_mm=sideways))
        wide.append(drawn(knowledge_from_fits(fits, taken=taken)[0]).systematic[:, DRIFT].std())
    # a mean set-down of 0.2 degrees looks like 0.5 degrees a metre in the middle of 0.8 m
    assert wide[0] == pytest.approx((0.5**-2 + ANY_DRIFT_U**-2) ** -0.5, abs=0.05)
    assert wide[1] < 0.35


@pytest.mark.slow
def test_true_spreads_lie_anywhere_between_what_the_hypotheses_hold_possible():
    """As many truths in each fifth (simulation-based calibration: Talts et al. 2018, arXiv:1804.06788)."""
    counts = np.zeros((6, 5))
    for k in range(300):
        rng = np.random.default_rng([5, k])
        factor = np.sqrt(4.0 / rng.chisquare(4.0, 6))
        robot = Played(
            1.0 + 0.01 * rng.standard_normal(), 0.004 * factor[0], 0.0, factor[2], rng.standard_normal(), factor[5],
            1.0 + 0.01 * rng.standard_normal(), rng.standard_normal(), factor[3], 0.7 * factor[4],
        )  # fmt: skip
        true = (
            robot.fraction_sd,
            3.0 * factor[1],
            robot.set_down_sd_deg,
            robot.turn_sd_deg,
            robot.turn_growth_sd_deg,
            robot.drift_sd_deg_per_m,
        )
        ranks = (drawn(known(robot, rng), count=64).spreads < true).mean(0)
        counts[range(6), np.minimum((5 * ranks).astype(int), 4)] += 1
    assert stats.chisquare(counts, axis=1).pvalue.min() > 0.001, counts
