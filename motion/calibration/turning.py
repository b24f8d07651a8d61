"""Spins on the spot and the yaw of a robot at rest."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from motion.calibration.change import ComparedNumber
from motion.calibration.readings import readings, same_length, sane_ratio
from motion.chance.least_squares import outliers, solve, straight_line, through_origin
from motion.errors import FitError, MotionCode


@dataclass(frozen=True)
class SpinFit:
    """measured = turn_scale * commanded + turn_bias in the direction of the turn.

    Attributes
    ----------
    turn_scale, turn_scale_u
        Really turned per degree told, and its standard uncertainty.
    turn_bias_deg, turn_bias_u_deg
        Too far (positive) at the end of every turn whatever its size; None when only one size of turn was measured.
    yaw_scale, yaw_scale_u
        Degrees that the robot's own yaw counts per degree really turned; None without yaw readings.
    residual_sd_deg
        Spread of one turn.
    outliers, runs
        As in a straight fit.
    """

    turn_scale: float
    turn_scale_u: float
    turn_bias_deg: float | None
    turn_bias_u_deg: float | None
    yaw_scale: float | None
    yaw_scale_u: float | None
    residual_sd_deg: float
    outliers: tuple[int, ...]
    runs: int

    def to_type(self, turn_deg: float) -> float:
        """The turn to type (degrees, signed) so that the robot really turns ``turn_deg``."""
        bias = math.copysign(self.turn_bias_deg or 0.0, turn_deg) if turn_deg else 0.0
        return (turn_deg - bias) / self.turn_scale

    def track_width(self, as_built_mm: float) -> float:
        """The track width to type (mm): too little turning means that the wheels are further apart than believed."""
        return as_built_mm / self.turn_scale

    def compared(self) -> tuple[ComparedNumber, ...]:
        """The scale alone, whether or not a bias was fitted beside it."""
        return (
            ComparedNumber(
                "turn",
                self.turn_scale,
                self.turn_scale_u,
                self.runs - 1,
                same="Turns come out as {since}",
                changed="Turns {hedge}come out {size} since {since}: check the tyres, the surface and the battery.",
            ),
        )


def fit_spin(
    commanded_deg: ArrayLike,
    measured_deg: ArrayLike,
    *,
    yaw_deg: ArrayLike | None = None,
    reading_deg: float = 1.0,
) -> SpinFit:
    """Fit spins of several whole turns.

    Parameters
    ----------
    commanded_deg, measured_deg
        Shape (n,), n >= 2, signed, whole turns included: told 1080, seen by eye against a mark 1071.
    yaw_deg
        Shape (n,): what the robot's own yaw counted, turns included and in the sign of ``commanded_deg``.
    reading_deg
        Smallest step that the eye can tell.

    Raises
    ------
    FitError
        As ``fit_straight``.

    Examples
    --------
    Told three whole turns, seen about nine degrees short of them.

    >>> fit = fit_spin([1080] * 3, [1071, 1070, 1072])
    >>> round(fit.turn_scale, 4), round(fit.to_type(90), 2)
    (0.9917, 90.76)
    """
    commanded = readings(commanded_deg, "commanded")
    measured = readings(measured_deg, "measured", least=0)
    same_length(commanded, measured, "measured")
    sane_ratio(measured, commanded, "degrees")
    several_sizes = len(np.unique(np.abs(commanded))) > 1 and len(commanded) > 2
    if several_sizes:
        fit = solve(np.column_stack([commanded, np.sign(commanded)]), measured)
    else:
        fit = through_origin(commanded, measured)
    floor = reading_deg / math.sqrt(12.0)
    grow = max(1.0, floor / fit.residual_sd) if fit.residual_sd > 0 else math.inf
    if math.isinf(grow):
        columns = np.column_stack([commanded, np.sign(commanded)]) if several_sizes else commanded[:, None]
        uncertainties = solve(columns, measured, floor if floor > 0 else 1e-9).uncertainties
    else:
        uncertainties = fit.uncertainties * grow
    yaw_scale = yaw_scale_u = None
    if yaw_deg is not None:
        yaw = readings(yaw_deg, "yaw", least=0)
        same_length(commanded, yaw, "yaw")
        sane_ratio(yaw, measured, "degrees")
        own = through_origin(measured, yaw)
        yaw_scale = float(own.values[0])
        yaw_scale_u = max(own.residual_sd, floor) / float(np.linalg.norm(measured))
    return SpinFit(
        turn_scale=float(fit.values[0]),
        turn_scale_u=float(uncertainties[0]),
        turn_bias_deg=float(fit.values[1]) if several_sizes else None,
        turn_bias_u_deg=float(uncertainties[1]) if several_sizes else None,
        yaw_scale=yaw_scale,
        yaw_scale_u=yaw_scale_u,
        residual_sd_deg=max(fit.residual_sd, floor),
        outliers=outliers(fit, resolution=reading_deg),
        runs=len(commanded),
    )


@dataclass(frozen=True)
class RestDriftFit:
    """How fast the yaw of a robot at rest wanders: degrees per minute, counted as the robot counts."""

    deg_per_minute: float
    u_deg_per_minute: float
    residual_sd_deg: float
    runs: int

    def over(self, seconds: float) -> float:
        """How far the yaw wanders in ``seconds``, in degrees."""
        return self.deg_per_minute * seconds / 60.0

    def compared(self) -> tuple[ComparedNumber, ...]:
        """The rate: a straight line has two numbers."""
        return (
            ComparedNumber(
                "rest",
                self.deg_per_minute,
                self.u_deg_per_minute,
                self.runs - 2,
                same="The yaw at rest wanders as fast as {since}",
                changed="The yaw at rest {hedge}wanders {size} against {since}.",
                unit="degrees a minute",
            ),
        )


def fit_rest_drift(seconds: ArrayLike, yaw_deg: ArrayLike, *, reading_deg: float = 0.1) -> RestDriftFit:
    """Fit yaw readings of a robot at rest by a straight line in time.

    Parameters
    ----------
    seconds
        Shape (n,), n >= 3, not all alike.
    yaw_deg
        Shape (n,), unwrapped or in (-180, 180].
    reading_deg
        Smallest step of the yaw display.

    Raises
    ------
    FitError
        ``too_few``, ``not_finite``, ``shape``, ``no_spread``, ``absurd`` (over 360 degrees a minute).

    Examples
    --------
    >>> fit = fit_rest_drift([0, 60, 120], [0.0, 0.5, 1.0])
    >>> round(fit.deg_per_minute, 6), round(fit.over(30), 6)
    (0.5, 0.25)
    """
    time = readings(seconds, "seconds", least=3)
    yaw = np.degrees(np.unwrap(np.radians(readings(yaw_deg, "yaw", least=0))))
    same_length(time, yaw, "yaw")
    middle = float(time.mean())
    fit = straight_line(time, yaw, origin=middle)
    rate = float(fit.values[1]) * 60.0
    if abs(rate) > 360.0:
        raise FitError(MotionCode.ABSURD, "The yaw turns once a minute or more; was the robot at rest?", "yaw")
    spread = max(fit.residual_sd, reading_deg / math.sqrt(12.0))
    u = spread / float(np.linalg.norm(time - middle)) * 60.0
    return RestDriftFit(rate, u, fit.residual_sd, len(time))
