"""Straight runs: how far the robot really goes, and how far it strays to the side."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from motion.calibration.change import ComparedNumber, SaidOfChange
from motion.calibration.readings import readings, same_length, sane_ratio
from motion.calibration.repeatability import repeatability
from motion.calibration.sideways import fit_sideways
from motion.calibration.variances import fit_variances, widened
from motion.chance.least_squares import Array, outliers, through_origin
from motion.course.sentences import _
from motion.errors import FitError, MotionCode


@dataclass(frozen=True)
class StraightFit:
    """measured = scale * commanded, through the origin; a run scatters by sqrt(reading^2 + (fraction * distance)^2).

    Attributes
    ----------
    scale, scale_u
        And its standard uncertainty (dimensionless), widened for few runs: twice it holds the truth as often as two
        standard deviations of a normal do.
    residual_sd_mm
        Spread of the runs about the fit, n - 1.
    fraction_sd
        The part of it that grows with the distance, as a fraction of the distance; what the tape cannot tell is not
        taken for nothing.
    repeatability_mm
        RP of ISO 9283 of the end points along the path, the commanded distances pooled.
    outliers
        Indices of runs that stand out; they are kept in the fit.
    runs
        How many runs it rests on.
    drift_deg_per_m, drift_u_deg_per_m, drift_sd_deg_per_m
        Curving to the left (positive) per metre, its standard uncertainty (widened as ``scale_u``) and the spread between runs
        without that of setting down; None unless the sideways miss was measured.
    scale_free, drift_free
        Degrees of freedom of ``scale_u`` and of ``drift_sd_deg_per_m``; None in records whose uncertainties are not
        widened, and whose drift holds the set-down's spread.
    start_heading_sd_deg
        Spread of the heading at which the robot was set down: found in these runs or, else, taken out of them.
    start_heading_deg, start_heading_u_deg
        Heading at which it was set down on average, left positive; None where the runs do not tell it from the curve.
    start_heading_from
        Where its spread is from: "runs", "set_down" (measured by itself) or "nominal"; empty without sideways misses.
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
    scale_free: float | None = None
    drift_free: float | None = None
    start_heading_sd_deg: float | None = None
    start_heading_deg: float | None = None
    start_heading_u_deg: float | None = None
    start_heading_from: str = ""

    @property
    def drift_alone(self) -> bool:
        """Whether these runs themselves tell the drift's spread from the set-down's."""
        return self.start_heading_from == "runs"

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
                self.scale_u / (1.0 if self.scale_free is None else widened(self.scale_free)),
                self.runs - 1,
                same=_("Distances come out as {since}, within the spread of the runs."),
                more=SaidOfChange(
                    _("The wheels look {size} larger since {since}: check the tyres, then the battery."),
                    _("The wheels perhaps look {size} larger since {since}: check the tyres, then the battery."),
                ),
                less=SaidOfChange(
                    _("The wheels look {size} smaller since {since}: check the tyres, then the battery."),
                    _("The wheels perhaps look {size} smaller since {since}: check the tyres, then the battery."),
                ),
            ),
        )


def fit_straight(
    commanded_mm: ArrayLike,
    measured_mm: ArrayLike,
    *,
    sideways_mm: ArrayLike | None = None,
    reading_mm: float = 1.0,
    set_down_sd_deg: float | None = None,
) -> StraightFit:
    """Fit straight runs, each weighted by how much a run of its distance scatters.

    Parameters
    ----------
    commanded_mm, measured_mm
        Shape (n,), n >= 2; negative for backing up.
    sideways_mm
        Shape (n,): how far left (positive) of the straight line each run ended.
    reading_mm
        Smallest step of the tape: no spread is trusted below its standard uncertainty, step / sqrt(12) (GUM 4.3.7).
    set_down_sd_deg
        Spread of the heading at which this robot is set down, where that was measured by itself.

    Raises
    ------
    FitError
        ``too_few``, ``not_finite``, ``shape``, ``zero``, ``absurd``, ``all_equal``, each with what to do.

    Examples
    --------
    >>> fit = fit_straight([600, 600, 900], [588, 590, 882])
    >>> round(fit.scale, 4), fit.runs
    (0.9811, 3)
    >>> round(fit.to_type(500.0), 1)
    509.6
    """
    commanded = readings(commanded_mm, "commanded")
    measured = readings(measured_mm, "measured", least=0)
    same_length(commanded, measured, "measured")
    sane_ratio(measured, commanded, "mm")
    if not (math.isfinite(reading_mm) and reading_mm >= 0):
        raise FitError(MotionCode.BAD_SD, _("The smallest step of the tape is zero or more."), "reading_mm")
    if set_down_sd_deg is not None and not (math.isfinite(set_down_sd_deg) and set_down_sd_deg >= 0):
        raise FitError(MotionCode.BAD_SD, _("The spread of setting down is zero or more."), "set_down_sd_deg")
    floor = reading_mm / math.sqrt(12.0)
    found = fit_variances(commanded[:, None], measured, commanded[:, None] ** 2, floor**2)
    # what the tape cannot tell is not taken for nothing, neither in a run's scatter nor in how sure the scale is
    length = float(np.sqrt(np.mean(commanded**2)))
    fraction = max(math.sqrt(float(found.variances[0])), floor / length)
    sd = np.hypot(floor, fraction * commanded)
    sd = np.maximum(sd, 1e-9 * length)
    fit = through_origin(commanded, measured, sd)
    scale = float(fit.values[0])
    rest = measured - scale * commanded
    typical = float(np.median(sd))
    alike = through_origin(commanded * typical / sd, measured * typical / sd)
    drift = _sideways(commanded, sideways_mm, reading_mm, set_down_sd_deg) if sideways_mm is not None else {}
    free = len(commanded) - 1
    return StraightFit(
        scale=scale,
        scale_u=float(fit.uncertainties[0]) * widened(free),
        residual_sd_mm=math.sqrt(float(rest @ rest) / free),
        fraction_sd=fraction,
        repeatability_mm=_pooled_repeatability(commanded, measured),
        outliers=outliers(alike, resolution=reading_mm),
        runs=len(commanded),
        scale_free=float(free),
        **drift,
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


def _sideways(
    commanded: Array, sideways_mm: ArrayLike, reading_mm: float, set_down_sd_deg: float | None
) -> dict[str, Any]:
    sideways = readings(sideways_mm, "sideways", least=0)
    same_length(commanded, sideways, "sideways")
    if (np.abs(sideways) > np.abs(commanded) / 2.0).any():
        raise FitError(MotionCode.ABSURD, _("A sideways miss is over half of its run; check its unit."), "sideways")
    found = fit_sideways(commanded, sideways, reading_mm, set_down_sd_deg)
    return {
        "drift_deg_per_m": found.drift_deg_per_m,
        "drift_u_deg_per_m": found.drift_u_deg_per_m,
        "drift_sd_deg_per_m": found.drift_sd_deg_per_m,
        "drift_free": found.drift_free,
        "start_heading_sd_deg": found.heading_sd_deg,
        "start_heading_deg": found.heading_deg,
        "start_heading_u_deg": found.heading_u_deg,
        "start_heading_from": found.source,
    }
