"""Setting down: how far from its marks, and how askew, a robot stands before every run."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from motion.calibration.change import ComparedNumber, SaidOfChange
from motion.calibration.readings import readings, same_length
from motion.calibration.repeatability import repeatability
from motion.chance.least_squares import Array, outliers, solve
from motion.course.sentences import _, numeral
from motion.errors import FitError, MotionCode

#: A robot further than this from its marks was not set down against them, mm. Common practice, no source.
FARTHEST_MM = 200.0
FEWEST = 3


@dataclass(frozen=True)
class SetDownFit:
    """Where a robot stands after it was set down: ahead of its marks, left of them, turned left.

    The place to the left is that of the middle between the marks at its front and at its back.

    Attributes
    ----------
    marks_apart_mm
        Between the mark at its front and that at its back.
    along_mm, along_u_mm, along_sd_mm
        Mean, its standard uncertainty, and the spread (n - 1) of single set-downs.
    sideways_mm, sideways_u_mm, sideways_sd_mm
        The same to the left.
    heading_deg, heading_u_deg, heading_sd_deg
        The same turned to the left.
    position_sd_mm, position_sd_u_mm
        Spread along one axis, both pooled, and its standard uncertainty.
    heading_sd_u_deg
        Standard uncertainty of the heading's spread.
    repeatability_mm
        RP of ISO 9283 of the places.
    outliers
        Indices of set-downs that stand out in any of the three; they are kept in the fit.
    runs
        How many set-downs.
    """

    marks_apart_mm: float
    along_mm: float
    along_u_mm: float
    along_sd_mm: float
    sideways_mm: float
    sideways_u_mm: float
    sideways_sd_mm: float
    heading_deg: float
    heading_u_deg: float
    heading_sd_deg: float
    position_sd_mm: float
    position_sd_u_mm: float
    heading_sd_u_deg: float
    repeatability_mm: float
    outliers: tuple[int, ...]
    runs: int

    @property
    def free(self) -> int:
        """Degrees of freedom of each spread; the pooled one of the place has twice as many."""
        return self.runs - 1

    def compared(self) -> tuple[ComparedNumber, ...]:
        """The means: a mark that was moved or is read otherwise shows in them."""
        return (
            _compared("along", self.along_mm, self.along_u_mm, self.free),
            _compared("sideways", self.sideways_mm, self.sideways_u_mm, self.free),
            _compared("heading", self.heading_deg, self.heading_u_deg, self.free),
        )


_SAME = {
    "along": _("It is set down as far ahead as {since}, within the spread of the runs."),
    "sideways": _("It is set down as far to the left as {since}, within the spread of the runs."),
    "heading": _("It is set down as far turned left as {since}, within the spread of the runs."),
}
_CHANGED = {
    "along": SaidOfChange(
        _("It is set down {size} mm ahead against {since}: check the marks."),
        _("It is perhaps set down {size} mm ahead against {since}: check the marks."),
    ),
    "sideways": SaidOfChange(
        _("It is set down {size} mm to the left against {since}: check the marks."),
        _("It is perhaps set down {size} mm to the left against {since}: check the marks."),
    ),
    "heading": SaidOfChange(
        _("It is set down {size} degrees turned left against {since}: check the marks."),
        _("It is perhaps set down {size} degrees turned left against {since}: check the marks."),
    ),
}


def _compared(what: str, value: float, u: float, free: int) -> ComparedNumber:
    return ComparedNumber(what, value, u, free, _SAME[what], _CHANGED[what], _CHANGED[what], in_its_unit=True)


def fit_set_down(
    along_mm: ArrayLike,
    front_left_mm: ArrayLike,
    back_left_mm: ArrayLike,
    marks_apart_mm: float,
    *,
    reading_mm: float = 1.0,
) -> SetDownFit:
    """Fit set-downs against marks, the robot lifted each time.

    Parameters
    ----------
    along_mm
        Shape (n,), n >= 3: how far ahead of its mark it stands; behind is negative.
    front_left_mm, back_left_mm
        Shape (n,): how far left of its mark the front and the back of it stand; right is negative.
    marks_apart_mm
        From the mark at its front to that at its back.
    reading_mm
        Smallest step of the ruler: no spread is trusted below its standard uncertainty, step / sqrt(12) (GUM 4.3.7).

    Returns
    -------
    SetDownFit
        A spread's standard uncertainty is s / sqrt(2 f), of f degrees of freedom (GUM E.4.3).

    Raises
    ------
    FitError
        ``too_few``, ``not_finite``, ``shape``, ``absurd``, ``bad_sd``, each with what to do.

    Examples
    --------
    >>> fit = fit_set_down([1, -1, 0], [2, 0, 1], [-1, 0, 1], 150.0)
    >>> round(fit.along_sd_mm, 2), round(fit.heading_deg, 2), round(fit.heading_sd_deg, 2)
    (1.0, 0.38, 0.66)
    """
    along = readings(along_mm, "along", FEWEST)
    front = readings(front_left_mm, "front", least=0)
    back = readings(back_left_mm, "back", least=0)
    same_length(along, front, _("the front"))
    same_length(along, back, _("the back"))
    if not (math.isfinite(reading_mm) and reading_mm >= 0):
        raise FitError(MotionCode.BAD_SD, _("The smallest step of the ruler is zero or more."), "reading_mm")
    _sane(along, front, back, marks_apart_mm)
    floor = reading_mm / math.sqrt(12.0)
    sideways = (front + back) / 2.0
    heading = np.degrees(np.arcsin((front - back) / marks_apart_mm))
    floors = (floor, floor / math.sqrt(2.0), math.degrees(floor * math.sqrt(2.0) / marks_apart_mm))
    n = len(along)
    means: list[float] = []
    spreads: list[float] = []
    odd: set[int] = set()
    for values, least in zip((along, sideways, heading), floors, strict=True):
        fit = solve(np.ones((n, 1)), values)
        means.append(float(fit.values[0]))
        spreads.append(max(fit.residual_sd, least))
        # each of three chances to stand out by chance has a third of the risk
        odd.update(outliers(fit, resolution=least * math.sqrt(12.0), risk=0.05 / 3.0))
    position = math.sqrt((spreads[0] ** 2 + spreads[1] ** 2) / 2.0)
    u = [spread / math.sqrt(n) for spread in spreads]
    return SetDownFit(
        marks_apart_mm=float(marks_apart_mm),
        along_mm=means[0],
        along_u_mm=u[0],
        along_sd_mm=spreads[0],
        sideways_mm=means[1],
        sideways_u_mm=u[1],
        sideways_sd_mm=spreads[1],
        heading_deg=means[2],
        heading_u_deg=u[2],
        heading_sd_deg=spreads[2],
        position_sd_mm=position,
        position_sd_u_mm=position / math.sqrt(4.0 * (n - 1)),
        heading_sd_u_deg=spreads[2] / math.sqrt(2.0 * (n - 1)),
        repeatability_mm=repeatability(np.column_stack([along, sideways])).repeatability,
        outliers=tuple(sorted(odd)),
        runs=n,
    )


def _sane(along: Array, front: Array, back: Array, apart: float) -> None:
    if not (math.isfinite(apart) and apart > 0):
        raise FitError(
            MotionCode.ABSURD,
            _("The marks at its front and its back are some way apart; measure between them."),
            "apart",
        )
    for values, name in ((along, "along"), (front, "front"), (back, "back")):
        far = np.flatnonzero(np.abs(values) > FARTHEST_MM)
        if len(far):
            raise FitError(
                MotionCode.ABSURD,
                _(
                    "Set-down {run} is {size} mm from its mark; check its unit.",
                    run=far[0] + 1,
                    size=numeral(f"{abs(values[far[0]]):g}"),
                ),
                f"{name}[{far[0]}]",
            )
    askew = np.flatnonzero(np.abs(front - back) > apart / 2.0)
    if len(askew):
        raise FitError(
            MotionCode.ABSURD,
            _(
                "Set-down {run} stands askew by over 30°; check its signs, its unit and how far the marks are apart.",
                run=askew[0] + 1,
            ),
            f"front[{askew[0]}]",
        )
