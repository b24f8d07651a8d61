"""The square path, driven both ways: systematic errors of wheel size and track width.

Borenstein and Feng, "Measurement and correction of systematic odometry errors in mobile robots", IEEE Transactions on
Robotics and Automation 12(6):869-880, 1996. Start at the origin with heading +x, y to the left; an error is the
measured return minus the return that the robot believes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from motion.calibration.change import ComparedNumber, SaidOfChange
from motion.calibration.repeatability import repeatability
from motion.chance.least_squares import Array, outliers, solve
from motion.course.sentences import _
from motion.errors import FitError, MotionCode


@dataclass(frozen=True)
class SquareFit:
    """What the square path says about the wheels.

    Attributes
    ----------
    side_mm, track_mm
        As given.
    centre_cw_mm, centre_ccw_mm
        Centres of gravity (x, y) of the return errors.
    alpha_deg
        Turns too small by this at each corner (positive: under-rotates).
    beta_deg
        Curving to the left over one side (positive).
    wheel_ratio, wheel_ratio_u
        E_d = right over left wheel diameter.
    track_ratio, track_ratio_u
        E_b = actual over nominal track width.
    left_factor, right_factor
        c_L and c_R: multiply each wheel's distance by it.
    largest_error_mm
        E_max, the farther of the two centres.
    scatter_mm
        Root of the summed variances of x and y, pooled over both ways.
    repeatability_mm
        RP of ISO 9283, the larger of both ways.
    runs
        Runs in all.
    outliers
        Indices of runs that stand out from those of their way, the clockwise ones counted first; they are kept in the fit.
    """

    side_mm: float
    track_mm: float
    centre_cw_mm: tuple[float, float]
    centre_ccw_mm: tuple[float, float]
    alpha_deg: float
    beta_deg: float
    wheel_ratio: float
    wheel_ratio_u: float
    track_ratio: float
    track_ratio_u: float
    left_factor: float
    right_factor: float
    largest_error_mm: float
    scatter_mm: float
    repeatability_mm: float
    runs: int
    outliers: tuple[int, ...] = ()

    @property
    def free(self) -> int:
        """Degrees of freedom of the scatter: each way has its own centre."""
        return self.runs - 2

    @property
    def alpha_u_deg(self) -> float:
        """Standard uncertainty of what a corner turns too small by; that of the curve is the same."""
        return math.degrees(self.track_ratio_u * math.pi / 2.0 / self.track_ratio**2)

    def turn_sd_deg(self, yaw_reference: str = "absolute") -> float:
        """Spread of one turn of 90 degrees, the scatter of the returns laid wholly to the turns.

        Parameters
        ----------
        yaw_reference
            ``"relative"`` when each turn is told from where the last one ended, so that all four corners move the return;
            ``"absolute"`` when the robot holds to its yaw, so that three sides do.
        """
        corners = 4.0 if yaw_reference == "relative" else 3.0
        return math.degrees(self.scatter_mm / (math.sqrt(corners) * self.side_mm))

    @property
    def track_to_type_mm(self) -> float:
        """The track width to type: E_b times the nominal one."""
        return self.track_ratio * self.track_mm

    def compared(self) -> tuple[ComparedNumber, ...]:
        """Both ratios, fitted together."""
        return (
            ComparedNumber(
                "wheels",
                self.wheel_ratio,
                self.wheel_ratio_u,
                self.free,
                same=_("The wheels come out as {since}, within the spread of the runs."),
                more=SaidOfChange(
                    _("The right wheel looks {size} larger against the left since {since}: compare both tyres."),
                    _(
                        "The right wheel perhaps looks {size} larger against the left since {since}: compare both tyres."
                    ),
                ),
                less=SaidOfChange(
                    _("The right wheel looks {size} smaller against the left since {since}: compare both tyres."),
                    _(
                        "The right wheel perhaps looks {size} smaller against the left since {since}: compare both tyres."
                    ),
                ),
            ),
            ComparedNumber(
                "track",
                self.track_ratio,
                self.track_ratio_u,
                self.free,
                same=_("The track comes out as {since}, within the spread of the runs."),
                more=SaidOfChange(
                    _("The wheels stand {size} further apart since {since}: check the axles."),
                    _("The wheels perhaps stand {size} further apart since {since}: check the axles."),
                ),
                less=SaidOfChange(
                    _("The wheels stand {size} closer since {since}: check the axles."),
                    _("The wheels perhaps stand {size} closer since {since}: check the axles."),
                ),
            ),
        )


def square_return(
    side_mm: float, track_mm: float, *, wheel_ratio: float, track_ratio: float, clockwise: bool
) -> tuple[float, float]:
    """Where a robot with these errors really ends a square that it believes closed, by exact arcs.

    The mean of both wheels is kept: D_R = 2 E_d / (1 + E_d), D_L = 2 / (1 + E_d).

    Examples
    --------
    >>> x, y = square_return(2000, 120, wheel_ratio=1, track_ratio=1, clockwise=True)
    >>> round(abs(x), 6), round(abs(y), 6)
    (0.0, 0.0)
    >>> x, y = square_return(2000, 120, wheel_ratio=1, track_ratio=1.01, clockwise=True)
    >>> round(x), round(y)
    (-61, -64)
    """
    right, left = 2.0 * wheel_ratio / (1.0 + wheel_ratio), 2.0 / (1.0 + wheel_ratio)
    actual_track = track_ratio * track_mm
    x = y = heading = 0.0
    quarter = (-1.0 if clockwise else 1.0) * math.pi / 2.0 * track_mm / 2.0
    for _corner in range(4):
        for left_way, right_way in ((side_mm * left, side_mm * right), (-quarter * left, quarter * right)):
            bend = (right_way - left_way) / actual_track
            chord = (right_way + left_way) / 2.0 * float(np.sinc(bend / 2.0 / math.pi))
            x += chord * math.cos(heading + bend / 2.0)
            y += chord * math.sin(heading + bend / 2.0)
            heading += bend
    return x, y


def corner_errors(cw: Array, ccw: Array, side_mm: float, axis: str = "both") -> tuple[float, float]:
    """(alpha, beta) in radians from the two centres, first order, from ``axis`` "x", "y" or their mean "both".

    Examples
    --------
    Returns 40 mm short in x both ways round, 40 mm to the inner side in y: each corner is 0.01 rad short.

    >>> alpha, beta = corner_errors(np.array([-40.0, -40.0]), np.array([-40.0, 40.0]), 2000)
    >>> round(alpha, 6), round(beta, 6)
    (0.01, 0.0)
    """
    alphas = np.array([cw[0] + ccw[0], cw[1] - ccw[1]]) / (-4.0 * side_mm)
    betas = np.array([cw[0] - ccw[0], cw[1] + ccw[1]]) / (-4.0 * side_mm)
    pick = {"x": slice(0, 1), "y": slice(1, 2), "both": slice(0, 2)}[axis]
    return float(alphas[pick].mean()), float(betas[pick].mean())


def ratios(alpha: float, beta: float, side_mm: float, track_mm: float) -> tuple[float, float]:
    """(E_d, E_b) from the corner errors in radians.

    Examples
    --------
    Corners that come out at 89.1 degrees for 90: the wheels stand further apart than believed by 90/89.1.

    >>> wheel, track = ratios(math.radians(0.9), 0.0, 2000, 120)
    >>> round(wheel, 6), round(track, 4)
    (1.0, 1.0101)
    """
    half = math.sin(beta / 2.0)
    radius = math.inf if half == 0.0 else side_mm / 2.0 / half
    wheel = 1.0 if math.isinf(radius) else (radius + track_mm / 2.0) / (radius - track_mm / 2.0)
    return wheel, (math.pi / 2.0) / (math.pi / 2.0 - alpha)


def _ways(runs: ArrayLike, side_mm: float, name: str) -> Array:
    try:
        points = np.asarray(runs, dtype=float)
    except (TypeError, ValueError):
        raise FitError(
            MotionCode.NOT_FINITE, _("A reading is not a number; correct it or leave its run out."), name
        ) from None
    if points.ndim != 2 or points.shape[1:] != (2,):
        raise FitError(MotionCode.SHAPE, _("Give x and y of every return."), name)
    if len(points) < 2:
        raise FitError(
            MotionCode.TOO_FEW, _("{count} of at least 2 runs this way round; five are usual.", count=len(points)), name
        )
    if not np.isfinite(points).all():
        raise FitError(MotionCode.NOT_FINITE, _("A return has no number; fill it in or leave its run out."), name)
    if (np.hypot(points[:, 0], points[:, 1]) > side_mm / 2.0).any():
        raise FitError(
            MotionCode.ABSURD, _("A return misses by over half a side; check the unit and the way round."), name
        )
    return points


_SIZES = {
    "side": _("The side is a positive length; measure it."),
    "track": _("The track is a positive length; measure it."),
}


def fit_square(
    cw_mm: ArrayLike,
    ccw_mm: ArrayLike,
    side_mm: float,
    track_mm: float,
    *,
    axis: str = "both",
    passes: int = 50,
    reading_mm: float = 1.0,
) -> SquareFit:
    """Fit return errors of the square path.

    One pass of the published formulas is not exact. Further passes predict the centres from the ratios found so far by
    exact arcs and put the formulas to what is left, until nothing is.

    Parameters
    ----------
    cw_mm, ccw_mm
        Return errors (x, y), shape (n, 2) each, n >= 2 each.
    side_mm, track_mm
        Side of the square and nominal track width.
    axis
        ``"both"`` averages what x and y say; ``"x"`` and ``"y"`` are for comparison.
    passes
        Most passes; 1 gives the published one-pass numbers.
    reading_mm
        Smallest step of the tape; see ``fit_straight``.

    Raises
    ------
    FitError
        ``too_few``, ``not_finite``, ``shape``, ``absurd``, ``no_convergence``.

    Examples
    --------
    Returns of a robot whose wheels stand one per cent further apart than believed.

    >>> back = {way: square_return(2000, 120, wheel_ratio=1, track_ratio=1.01, clockwise=way) for way in (True, False)}
    >>> fit = fit_square([back[True]] * 2, [back[False]] * 2, 2000, 120)
    >>> round(fit.track_ratio, 6), round(fit.track_to_type_mm, 3), round(fit.wheel_ratio, 6)
    (1.01, 121.2, 1.0)
    """
    for size, name in ((side_mm, "side"), (track_mm, "track")):
        if not (math.isfinite(size) and size > 0.0):
            raise FitError(MotionCode.ABSURD, _SIZES[name], name)
    cw, ccw = _ways(cw_mm, side_mm, "cw"), _ways(ccw_mm, side_mm, "ccw")
    centre_cw, centre_ccw = cw.mean(axis=0), ccw.mean(axis=0)
    alpha, beta = corner_errors(centre_cw, centre_ccw, side_mm, axis)
    step = 0.0
    for _again in range(passes - 1):
        wheel, track = ratios(alpha, beta, side_mm, track_mm)
        rest = [
            centre - square_return(side_mm, track_mm, wheel_ratio=wheel, track_ratio=track, clockwise=clockwise)
            for centre, clockwise in ((centre_cw, True), (centre_ccw, False))
        ]
        more_alpha, more_beta = corner_errors(rest[0], rest[1], side_mm, axis)
        alpha, beta = alpha + more_alpha, beta + more_beta
        step = max(abs(more_alpha), abs(more_beta))
        if step < 1e-13:
            break
    if step > 1e-9 or not abs(alpha) + abs(beta) < 0.5:
        raise FitError(
            MotionCode.NO_CONVERGENCE, _("These returns fit no pair of wheels; check signs and the way round.")
        )
    wheel, track = ratios(alpha, beta, side_mm, track_mm)
    floor = reading_mm**2 / 12.0
    variances = np.maximum(np.array([cw.var(axis=0, ddof=1), ccw.var(axis=0, ddof=1)]), floor)
    of_centres = variances / np.array([[len(cw)], [len(ccw)]])
    used = of_centres if axis == "both" else of_centres[:, [0 if axis == "x" else 1]]
    angle_u = math.sqrt(float(used.sum())) / (4.0 * side_mm * used.shape[1])
    pooled = ((len(cw) - 1) * variances[0] + (len(ccw) - 1) * variances[1]) / (len(cw) + len(ccw) - 2)
    return SquareFit(
        side_mm=float(side_mm),
        track_mm=float(track_mm),
        centre_cw_mm=(float(centre_cw[0]), float(centre_cw[1])),
        centre_ccw_mm=(float(centre_ccw[0]), float(centre_ccw[1])),
        alpha_deg=math.degrees(alpha),
        beta_deg=math.degrees(beta),
        wheel_ratio=wheel,
        wheel_ratio_u=track_mm / side_mm * angle_u,
        track_ratio=track,
        track_ratio_u=track**2 * angle_u / (math.pi / 2.0),
        left_factor=2.0 / (wheel + 1.0),
        right_factor=2.0 / (1.0 / wheel + 1.0),
        largest_error_mm=float(max(np.hypot(*centre_cw), np.hypot(*centre_ccw))),
        scatter_mm=math.sqrt(float(pooled.sum())),
        repeatability_mm=max(repeatability(cw).repeatability, repeatability(ccw).repeatability),
        runs=len(cw) + len(ccw),
        outliers=_outliers(cw, ccw, reading_mm),
    )


def _outliers(cw: Array, ccw: Array, reading_mm: float) -> tuple[int, ...]:
    """Runs that stand out in x or in y, half of the risk for each."""
    clockwise = np.arange(len(cw) + len(ccw)) < len(cw)
    ways, points = np.column_stack([clockwise, ~clockwise]).astype(float), np.vstack([cw, ccw])
    return tuple(sorted({i for axis in points.T for i in outliers(solve(ways, axis), reading_mm, risk=0.025)}))
