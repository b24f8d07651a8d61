"""Spins on the spot and the yaw of a robot at rest."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from motion.calibration.change import ComparedNumber, SaidOfChange
from motion.calibration.readings import readings, same_length, sane_ratio
from motion.calibration.variances import fit_variances, tells_apart, widened
from motion.chance.least_squares import Array, LeastSquares, outliers, solve, straight_line, through_origin
from motion.course.sentences import _
from motion.errors import FitError, MotionCode

#: What start and stop add to a turn's spread, and what every 90 degrees on the way do, of a kit that nobody has
#: measured: only their ratio is used. Common practice, no source.
NOMINAL_TURN = (1.0, 0.7)
#: Turns beyond the fitted numbers before two spreads are looked for.
SPARE_TURNS = 2
#: Sizes to ask for, degrees: what courses are made of, and what shows a scale best.
COURSE_TURN, WHOLE_TURNS = 90.0, 1080.0


@dataclass(frozen=True)
class SpinFit:
    """measured = turn_scale * commanded + turn_bias in the direction of the turn.

    A turn of a degrees scatters with the variance turn_sd^2 + turn_growth_sd^2 * |a| / 90: what each start and stop adds,
    and what adds up on the way.

    Attributes
    ----------
    turn_scale, turn_scale_u
        Really turned per degree told, and its standard uncertainty, widened for few runs as a straight fit's.
    turn_bias_deg, turn_bias_u_deg
        Too far (positive) at the end of every turn whatever its size; None when turns of about one size were measured,
        which do not tell it from the scale.
    yaw_scale, yaw_scale_u
        Degrees that the robot's own yaw counts per degree really turned; None without yaw readings.
    residual_sd_deg
        Spread of the turns about the fit, large and small ones together.
    outliers, runs
        As in a straight fit.
    turn_sd_deg, turn_growth_sd_deg
        Both parts of the scatter; None in records that do not tell them apart.
    scale_bias_correlation
        Between the errors of the scale and of the bias: turns told too small in scale are told too large in bias. None
        without a bias.
    turn_free, turn_growth_free
        Degrees of freedom of each.
    ask_for_deg
        Turns of this size, added to these, would tell both parts (and bias and scale) apart; until then the scatter is
        split as a kit's usually is. None when nothing is lacking.
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
    turn_sd_deg: float | None = None
    turn_growth_sd_deg: float | None = None
    turn_free: float | None = None
    turn_growth_free: float | None = None
    scale_bias_correlation: float | None = None
    ask_for_deg: float | None = None

    @property
    def free(self) -> int:
        """Degrees of freedom that the runs leave."""
        return self.runs - (1 if self.turn_bias_deg is None else 2)

    def sd_of_turn(self, turn_deg: float) -> float:
        """How a turn of this size scatters, in degrees."""
        if self.turn_sd_deg is None or self.turn_growth_sd_deg is None:
            return self.residual_sd_deg
        return math.sqrt(self.turn_sd_deg**2 + self.turn_growth_sd_deg**2 * abs(turn_deg) / 90.0)

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
                self.turn_scale_u / (1.0 if self.turn_sd_deg is None else widened(self.free)),
                self.free,
                same=_("Turns come out as {since}, within the spread of the runs."),
                more=SaidOfChange(
                    _("Turns come out {size} larger since {since}: check the tyres, the surface and the battery."),
                    _(
                        "Turns perhaps come out {size} larger since {since}: check the tyres, the surface and the battery."
                    ),
                ),
                less=SaidOfChange(
                    _("Turns come out {size} smaller since {since}: check the tyres, the surface and the battery."),
                    _(
                        "Turns perhaps come out {size} smaller since {since}: check the tyres, the surface and the battery."
                    ),
                ),
            ),
        )


def fit_spin(
    commanded_deg: ArrayLike,
    measured_deg: ArrayLike,
    *,
    yaw_deg: ArrayLike | None = None,
    reading_deg: float = 1.0,
) -> SpinFit:
    """Fit turns on the spot, of several whole turns and of 90 degrees.

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
    floor = reading_deg / math.sqrt(12.0)
    scatter = _scatter(commanded, measured, floor)
    fit = scatter.fit
    residual_sd = math.sqrt(float(fit.residuals @ fit.residuals) / fit.degrees)
    biased = len(fit.values) > 1
    u = fit.uncertainties * widened(fit.degrees)
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
        turn_scale_u=float(u[0]),
        turn_bias_deg=float(fit.values[1]) if biased else None,
        turn_bias_u_deg=float(u[1]) if biased else None,
        yaw_scale=yaw_scale,
        yaw_scale_u=yaw_scale_u,
        residual_sd_deg=max(residual_sd, floor),
        outliers=outliers(scatter.alike, resolution=reading_deg),
        runs=len(commanded),
        turn_sd_deg=scatter.sd,
        turn_growth_sd_deg=scatter.growth_sd,
        turn_free=scatter.free,
        turn_growth_free=scatter.growth_free,
        scale_bias_correlation=float(fit.covariance[0, 1] / np.sqrt(fit.covariance[0, 0] * fit.covariance[1, 1]))
        if biased
        else None,
        ask_for_deg=scatter.ask_for,
    )


@dataclass(frozen=True)
class _Scatter:
    """The fit weighted by the law of its scatter; ``alike`` is the same with every turn in units of a typical one."""

    fit: LeastSquares
    alike: LeastSquares
    sd: float
    growth_sd: float
    free: float
    growth_free: float
    ask_for: float | None


def _scatter(commanded: Array, measured: Array, floor: float) -> _Scatter:
    quarters = np.abs(commanded) / 90.0
    several_sizes = tells_apart(commanded) and len(commanded) > 2
    columns = [commanded, np.sign(commanded)] if several_sizes else [commanded]
    design = np.column_stack(columns)
    apart = several_sizes and len(commanded) >= len(columns) + SPARE_TURNS
    if apart:
        found = fit_variances(design, measured, np.column_stack([np.ones_like(quarters), quarters]), floor**2)
        sd, growth_sd = (math.sqrt(float(each)) for each in found.variances)
        if sd == growth_sd == 0.0:
            sd = floor
        free, growth_free = (float(each) for each in found.degrees)
    else:
        shares = NOMINAL_TURN[0] ** 2 + NOMINAL_TURN[1] ** 2 * quarters
        found = fit_variances(design, measured, shares[:, None], 0.0)
        part = math.sqrt(max(float(found.variances[0]), floor**2 / float(shares.mean())))
        sd, growth_sd = part * NOMINAL_TURN[0], part * NOMINAL_TURN[1]
        free = growth_free = float(len(commanded) - len(columns))
    spread = np.maximum(found.sd, max(floor, 1e-9))
    typical = float(np.median(spread))
    return _Scatter(
        fit=solve(design, measured, spread),
        alike=solve(design * (typical / spread)[:, None], measured * typical / spread),
        sd=sd,
        growth_sd=growth_sd,
        free=free,
        growth_free=growth_free,
        ask_for=None if apart else COURSE_TURN if float(quarters.mean()) > 2.0 else WHOLE_TURNS,
    )


@dataclass(frozen=True)
class RestDriftFit:
    """How fast the yaw of a robot at rest wanders: degrees per minute, counted as the robot counts.

    ``outliers`` are indices of readings that stand out; they are kept in the fit.
    """

    deg_per_minute: float
    u_deg_per_minute: float
    residual_sd_deg: float
    runs: int
    outliers: tuple[int, ...] = ()

    def over(self, seconds: float) -> float:
        """How far the yaw wanders in ``seconds``, in degrees."""
        return self.deg_per_minute * seconds / 60.0

    def compared(self) -> tuple[ComparedNumber, ...]:
        """The rate: a straight line has two numbers."""
        wanders = SaidOfChange(
            _("The yaw at rest wanders {size} degrees a minute against {since}."),
            _("The yaw at rest perhaps wanders {size} degrees a minute against {since}."),
        )
        same = _("The yaw at rest wanders as fast as {since}, within the spread of the runs.")
        rate, u = self.deg_per_minute, self.u_deg_per_minute
        return (ComparedNumber("rest", rate, u, self.runs - 2, same, wanders, wanders, in_its_unit=True),)


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
        raise FitError(MotionCode.ABSURD, _("The yaw turns once a minute or more; was the robot at rest?"), "yaw")
    spread = max(fit.residual_sd, reading_deg / math.sqrt(12.0))
    u = spread / float(np.linalg.norm(time - middle)) * 60.0
    return RestDriftFit(rate, u, fit.residual_sd, len(time), outliers(fit, resolution=reading_deg))
