"""What a robot's calibrations and a kit's usual numbers say together."""

from __future__ import annotations

import numpy as np
import pytest

from motion.calibration.knowledge import NOMINAL_U, Fits, knowledge_from_fits
from motion.calibration.straight import fit_straight
from motion.calibration.turning import fit_spin
from motion.chance.hypotheses import drawn


def straight_runs(rng, drift):
    """Ten, at two distances, of a robot that is set down within 1 degree."""
    told = np.array([500.0] * 5 + [1200.0] * 5)
    askew, bent = np.radians(rng.normal(0, 1, 10)), np.radians(drift + rng.normal(0, 1, 10)) * told / 1000
    return fit_straight(told, told, sideways_mm=told * np.sin(askew + bent / 2))


def test_few_runs_that_hardly_tell_a_curve_are_weighed_with_what_kits_usually_do():
    fit = straight_runs(np.random.default_rng(1), 1.0)
    knowledge, _ = knowledge_from_fits(Fits(straight=fit))
    u, usual = fit.drift_u_deg_per_m, NOMINAL_U.drift_deg_per_m
    assert u > usual  # by themselves they say less than one knows of any kit
    assert knowledge.u.drift_deg_per_m == pytest.approx((u**-2 + usual**-2) ** -0.5)
    assert knowledge.mean.drift_deg_per_m == pytest.approx(fit.drift_deg_per_m * usual**2 / (usual**2 + u**2))


def test_what_is_known_of_curves_is_nearer_the_truth_than_measurement_or_usual_alone_and_as_sure_as_it_says():
    rng = np.random.default_rng(2)
    drifts = rng.normal(0, NOMINAL_U.drift_deg_per_m, 300)
    fits = [straight_runs(rng, drift) for drift in drifts]
    known = [knowledge_from_fits(Fits(straight=fit))[0] for fit in fits]
    off = np.array([each.mean.drift_deg_per_m for each in known]) - drifts
    measured = np.array([fit.drift_deg_per_m for fit in fits]) - drifts
    assert np.sqrt(np.mean(off**2)) < 0.9 * min(np.sqrt(np.mean(measured**2)), np.sqrt(np.mean(drifts**2)))
    sure = off / np.array([each.u.drift_deg_per_m for each in known])
    assert 0.9 < np.mean(np.abs(sure) < 2.0) < 0.99


def test_a_bias_that_many_turns_tell_is_hardly_drawn_to_the_usual():
    rng = np.random.default_rng(3)
    told = np.array([90.0] * 40 + [720.0] * 40)
    fit = fit_spin(told, told + 2.0 + rng.normal(0, 1, 80))
    knowledge, _ = knowledge_from_fits(Fits(spin=fit))
    assert 0.9 * fit.turn_bias_deg < knowledge.mean.turn_bias_deg < fit.turn_bias_deg
    assert knowledge.u.turn_bias_deg < fit.turn_bias_u_deg


def test_the_spread_of_a_curve_comes_out_neither_too_wide_nor_too_narrow():
    """Drawn from what is known, about as often above the truth as below it, over robots as kits may be: 0.56 of them. With
    the spread right on average in place of the root of the variance, which is what is pooled, it was 0.60."""
    rng = np.random.default_rng(4)
    above = []
    for _ in range(250):
        spread = np.sqrt(4.0 / rng.chisquare(4.0))
        told = np.array([500.0] * 5 + [1200.0] * 5)
        askew, bent = np.radians(rng.normal(0, 1, 10)), np.radians(rng.normal(0, spread, 10)) * told / 1000
        fit = fit_straight(told, told, sideways_mm=told * np.sin(askew + bent / 2))
        hypotheses = drawn(knowledge_from_fits(Fits(straight=fit))[0], count=64)
        above.append(float(np.mean(hypotheses.spreads[:, 5] > spread)))
    assert np.mean(above) == pytest.approx(0.5, abs=0.08)
