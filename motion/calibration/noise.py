"""A robot's noise from its calibrations, for the error model."""

from __future__ import annotations

import math
from dataclasses import replace

from motion.calibration.square import SquareFit
from motion.calibration.straight import StraightFit
from motion.calibration.turning import SpinFit
from motion.chance.least_squares import widen
from motion.scene.records import Noise

#: What a small two-wheeled robot does before anybody has measured it. Common practice, no source.
NOMINAL_NOISE = Noise(
    distance_scale_sd=0.01,
    start_position_sd_mm=3.0,
    start_heading_sd_deg=1.0,
    turn_sd_deg=1.2,
    drift_sd_deg_per_m=1.0,
    distance_sd_fraction=0.004,
    yaw_reference="absolute",
    runs=None,
)


def noise_from_fits(
    straight: StraightFit | None = None,
    spin: SpinFit | None = None,
    square: SquareFit | None = None,
    *,
    nominal: Noise = NOMINAL_NOISE,
) -> Noise:
    """Noise of a robot that types its corrected numbers.

    What was measured replaces what is nominal; each spread from n runs is widened by Student's t at 68 %
    (``uncertainty.widen``: 1.84 for two runs, 1.14 for five). After correction the common distance scale is left
    uncertain by the fit's own uncertainty. Turns: the spread of single spins, or else the scatter of the square path
    laid wholly to its turns. ``runs`` is the fewest runs that any of the used fits rests on.

    Parameters
    ----------
    straight, spin, square
        The newest fits; None where nothing was measured.
    nominal
        What stands in for the rest; its ``yaw_reference`` is kept.

    Examples
    --------
    Five spins of three whole turns say how turns scatter; the rest stays nominal.

    >>> from motion.calibration.turning import fit_spin
    >>> noise = noise_from_fits(spin=fit_spin([1080] * 5, [1078, 1082, 1080, 1080, 1080]))
    >>> round(noise.turn_sd_deg, 2), noise.runs, noise.drift_sd_deg_per_m
    (1.61, 5, 1.0)
    """
    noise = nominal
    counts: list[int] = []
    if straight is not None:
        factor = widen(straight.runs)
        noise = replace(
            noise,
            distance_scale_sd=straight.scale_u * factor,
            distance_sd_fraction=straight.fraction_sd * factor,
        )
        if straight.drift_sd_deg_per_m is not None:
            noise = replace(noise, drift_sd_deg_per_m=straight.drift_sd_deg_per_m * factor)
        counts.append(straight.runs)
    if spin is not None:
        fitted = 1 if spin.turn_bias_deg is None else 2
        noise = replace(noise, turn_sd_deg=spin.residual_sd_deg * widen(spin.runs, fitted))
        counts.append(spin.runs)
    elif square is not None:
        corners = 4.0 if noise.yaw_reference == "relative" else 3.0
        turn_sd = math.degrees(square.scatter_mm / (math.sqrt(corners) * square.side_mm))
        noise = replace(noise, turn_sd_deg=turn_sd * widen(square.runs - 1))
        counts.append(square.runs)
    return replace(noise, runs=min(counts)) if counts else noise
