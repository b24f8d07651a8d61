"""Fits of measured runs: whether a stated uncertainty holds, and whether a spread is that of the thing it names."""

from __future__ import annotations

import numpy as np

from benchmarks.figures import Figure
from motion.calibration import fit_straight
from tests.oracles.measuring import Played, straight_runs

FITS = 1_000
DISTANCES_MM = (300.0, 600.0, 1200.0, 2000.0)
#: From a robot whose scatter the tape hides to one that slips.
FRACTIONS = (0.0005, 0.001, 0.004, 0.015)
PAIRS_MM = ((500.0, 1500.0), (600.0, 1200.0), (600.0, 1800.0), (1000.0, 2000.0))


def straight() -> Figure:
    """How often five runs of mixed distances miss the true scale by over twice what they state, at worst."""
    rng = np.random.default_rng(1)
    shares = []
    for fraction in FRACTIONS:
        robot, missed = Played(fraction_sd=fraction), 0
        for _ in range(FITS):
            told = [float(each) for each in rng.choice(DISTANCES_MM, 5)]
            fit = fit_straight(told, [length for length, _ in straight_runs(robot, told, rng)])
            missed += abs(fit.scale - robot.scale) > 2.0 * fit.scale_u
        shares.append(missed / FITS)
    said = ", ".join(
        f"{100 * share:.1f} % at {100 * fraction:g} %" for share, fraction in zip(shares, FRACTIONS, strict=True)
    )
    return Figure(max(shares), "of fits", 0.07, f"{FITS} fits of 5 runs for each scatter: {said} of the distance")


def drift() -> Figure:
    """How far the mean drift spread of ten runs at two distances is from the true 1 degree a metre, at worst."""
    rng = np.random.default_rng(2)
    robot, means = Played(), []
    for short, long in PAIRS_MM:
        told, spreads = [short] * 5 + [long] * 5, []
        for _ in range(FITS):
            lengths, sideways = zip(*straight_runs(robot, told, rng), strict=True)
            spreads.append(fit_straight(told, lengths, sideways_mm=sideways).drift_sd_deg_per_m)
        means.append(float(np.mean(spreads)))
    said = ", ".join(
        f"{mean:.2f} from {short:g} and {long:g} mm" for mean, (short, long) in zip(means, PAIRS_MM, strict=True)
    )
    return Figure(
        max(abs(mean - 1.0) for mean in means), "of 1 °/m", 0.15, f"{FITS} fits each, 1° of set-down beside it: {said}"
    )


FIGURES = {"honest.calibration_straight": straight, "honest.calibration_drift": drift}
