"""Straight runs: how far the robot really goes, and how far it strays to the side."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from motion.calibration.change import ComparedNumber
from motion.calibration.readings import readings, same_length, sane_ratio
from motion.calibration.repeatability import repeatability
from motion.chance.least_squares import Array, outliers, through_origin
from motion.errors import FitError, MotionCode


@dataclass(frozen=True)
class StraightFit:
    """measured = scale * commanded, through the origin.

    Attributes
    ----------
    scale, scale_u
        And its standard uncertainty (dimensionless).
    residual_sd_mm
        Spread of the runs about the fit, n - 1.
    fraction_sd
        The same as a fraction of the (root mean square) commanded distance.
    repeatability_mm
        RP of ISO 9283 of the end points along the path, the commanded distances pooled.
    outliers
        Indices of runs that stand out; they are kept in the fit.
    runs
        How many runs it rests on.
    drift_deg_per_m, drift_u_deg_per_m, drift_sd_deg_per_m
        Curving to the left (positive) per metre, its standard uncertainty and the spread between runs; None unless
        the sideways miss was measured.
    """

    scale: float
    scale_u: float
    residual_sd_mm: float
    fraction_sd: float
    repeatability_mm: float
    outliers: tuple[int, ...]
    runs: int
    drift_deg_per_m: float | None = None
    drift_u_deg_per_m: float | None = None
    drift_sd_deg_per_m: float | None = None

    def to_type(self, distance_mm: float) -> float:
        """The number to type (mm) so that the robot really goes ``distance_mm``."""
        return distance_mm / self.scale

    def wheel_diameter(self, as_built_mm: float) -> float:
        """The wheel diameter to type (mm): the one that the robot's distances speak for."""
        return as_built_mm * self.scale

    def compared(self) -> tuple[ComparedNumber, ...]:
        """The scale: one number was fitted."""
        return (
            ComparedNumber(
                "distance",
                self.scale,
                self.scale_u,
                self.runs - 1,
                same="Distances come out as {since}",
                changed="The wheels {hedge}look {size} since {since}: check the tyres, then the battery.",
            ),
        )


def fit_straight(
    commanded_mm: ArrayLike,
    measured_mm: ArrayLike,
    *,
    sideways_mm: ArrayLike | None = None,
    reading_mm: float = 1.0,
) -> StraightFit:
    """Fit straight runs.

    Parameters
    ----------
    commanded_mm, measured_mm
        Shape (n,), n >= 2; negative for backing up. Every run counts alike.
    sideways_mm
        Shape (n,): how far left (positive) of the straight line each run ended.
    reading_mm
        Smallest step of the tape: no spread is trusted below its standard uncertainty, step / sqrt(12) (GUM 4.3.7).

    Raises
    ------
    FitError
        ``too_few``, ``not_finite``, ``shape``, ``zero``, ``absurd``, ``all_equal``, each with what to do.

    Examples
    --------
    >>> fit = fit_straight([600, 600, 900], [588, 590, 882])
    >>> round(fit.scale, 4), fit.runs
    (0.9808, 3)
    >>> round(fit.to_type(500.0), 1)
    509.8
    """
    commanded = readings(commanded_mm, "commanded")
    measured = readings(measured_mm, "measured", least=0)
    same_length(commanded, measured, "measured")
    sane_ratio(measured, commanded, "mm")
    if not (math.isfinite(reading_mm) and reading_mm >= 0):
        raise FitError(MotionCode.BAD_SD, "The smallest step of the tape is zero or more.", "reading_mm")
    fit = through_origin(commanded, measured)
    spread = max(fit.residual_sd, reading_mm / math.sqrt(12.0))
    length = float(np.sqrt(np.mean(commanded**2)))
    drift = _sideways(commanded, sideways_mm) if sideways_mm is not None else (None, None, None)
    return StraightFit(
        scale=float(fit.values[0]),
        scale_u=spread / float(np.linalg.norm(commanded)),
        residual_sd_mm=fit.residual_sd,
        fraction_sd=spread / length,
        repeatability_mm=_pooled_repeatability(commanded, measured),
        outliers=outliers(fit, resolution=reading_mm),
        runs=len(commanded),
        drift_deg_per_m=drift[0],
        drift_u_deg_per_m=drift[1],
        drift_sd_deg_per_m=drift[2],
    )


def _pooled_repeatability(commanded: Array, measured: Array) -> float:
    """RP along the path with each commanded distance about its own mean; about the fit when none is repeated."""
    offsets = measured.copy()
    for distance in np.unique(commanded):
        same = commanded == distance
        offsets[same] -= offsets[same].mean()
    if len(np.unique(commanded)) == len(commanded):
        offsets = measured - commanded * (commanded @ measured) / (commanded @ commanded)
    return repeatability(offsets).repeatability


def _sideways(commanded: Array, sideways_mm: ArrayLike) -> tuple[float, float, float]:
    """Drift per metre, its uncertainty and its spread; an even curve misses by rate * distance^2 / 2."""
    sideways = readings(sideways_mm, "sideways", least=0)
    same_length(commanded, sideways, "sideways")
    if (np.abs(sideways) > np.abs(commanded) / 2.0).any():
        raise FitError(MotionCode.ABSURD, "A sideways miss is over half of its run; check its unit.", "sideways")
    deg_per_m = np.degrees(2.0 * sideways / commanded**2) * 1000.0
    spread = float(deg_per_m.std(ddof=1))
    return float(deg_per_m.mean()), spread / math.sqrt(len(deg_per_m)), spread
