"""Least squares with standard uncertainties and their correlation.

One solver for every fit of the house: weighted, optionally with prior knowledge, its standard uncertainties as in the
GUM (JCGM 100:2008, H.3): s^2 from n - m degrees of freedom, covariance s^2 (A'A)^-1, predictions with the correlation
kept.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from motion.course.sentences import _
from motion.errors import FitError, MotionCode

Array = NDArray[np.float64]

#: Half the range that holds 95 % of a normal distribution, in standard deviations.
NINETEEN_IN_TWENTY = 1.959964


@dataclass(frozen=True)
class LeastSquares:
    """A linear fit y = A b.

    Attributes
    ----------
    values
        Coefficients b, shape (m,).
    covariance
        Of the coefficients, shape (m, m).
    residuals
        y - A b, shape (n,).
    leverage
        Diagonal of the hat matrix, shape (n,).
    residual_sd
        s; of unit weight when the fit is weighted; NaN when no degree of freedom is left.
    degrees
        n - m.
    """

    values: Array
    covariance: Array
    residuals: Array
    leverage: Array
    residual_sd: float
    degrees: int

    @property
    def uncertainties(self) -> Array:
        """Standard uncertainty of each coefficient, shape (m,)."""
        return np.sqrt(np.diag(self.covariance))


def solve(design: ArrayLike, observed: ArrayLike, sd: ArrayLike | None = None) -> LeastSquares:
    """Least squares y = A b.

    Parameters
    ----------
    design
        A, shape (n, m).
    observed
        y, shape (n,).
    sd
        Known standard deviations of y, shape (n,). With them the covariance is (A'WA)^-1 and ``residual_sd`` is only
        a test of the fit; without, s^2 is estimated from the residuals.

    Raises
    ------
    FitError
        ``not_finite``, ``shape``, ``too_few`` (fewer rows than coefficients), ``no_spread`` (the rows do not tell
        the coefficients apart), ``bad_sd``.

    Examples
    --------
    Two unknowns, three readings: 2, 3 and their sum read as 5.3.

    >>> fit = solve([[1, 0], [0, 1], [1, 1]], [2.0, 3.0, 5.3])
    >>> [round(float(value), 6) for value in fit.values], fit.degrees
    ([2.1, 3.1], 1)
    """
    a = np.asarray(design, dtype=float)
    y = np.asarray(observed, dtype=float)
    if a.ndim != 2 or y.shape != (a.shape[0],):
        raise FitError(MotionCode.SHAPE, _("Each measurement needs its own row; give as many readings as rows."))
    if not (np.isfinite(a).all() and np.isfinite(y).all()):
        raise FitError(
            MotionCode.NOT_FINITE, _("A measurement is missing or not a number; fill it in or leave its run out.")
        )
    n, m = a.shape
    if n < m:
        raise FitError(MotionCode.TOO_FEW, _("{n} measurements cannot fix {m} unknowns; measure again.", n=n, m=m))
    weight = np.ones(n)
    if sd is not None:
        deviations = np.broadcast_to(np.asarray(sd, dtype=float), (n,))
        if not (np.isfinite(deviations).all() and (deviations > 0).all()):
            raise FitError(MotionCode.BAD_SD, _("The uncertainty of a measurement is a positive number."))
        weight = 1.0 / deviations
    scaled = a * weight[:, None]
    size = np.linalg.norm(scaled, axis=0)
    if (size == 0).any():
        raise FitError(
            MotionCode.NO_SPREAD, _("The measurements do not tell the unknowns apart; vary what is measured.")
        )
    q, r = np.linalg.qr(scaled / size)
    if np.abs(np.diag(r)).min() < 1e-9:
        raise FitError(
            MotionCode.NO_SPREAD, _("The measurements do not tell the unknowns apart; vary what is measured.")
        )
    inverse = np.linalg.inv(r) / size[:, None]
    values = inverse @ (q.T @ (y * weight))
    residuals = y - a @ values
    weighted_square = float(np.sum((residuals * weight) ** 2))
    degrees = n - m
    residual_sd = float(np.sqrt(weighted_square / degrees)) if degrees else float("nan")
    covariance = inverse @ inverse.T * (1.0 if sd is not None else residual_sd**2)
    return LeastSquares(values, covariance, residuals, np.sum(q * q, axis=1), residual_sd, degrees)


def through_origin(x: ArrayLike, y: ArrayLike, sd: ArrayLike | None = None) -> LeastSquares:
    """y = b x.

    Examples
    --------
    >>> round(float(through_origin([1, 2], [3, 6]).values[0]), 6)
    3.0
    """
    return solve(np.asarray(x, dtype=float).reshape(-1, 1), y, sd)


def straight_line(x: ArrayLike, y: ArrayLike, sd: ArrayLike | None = None, origin: float = 0.0) -> LeastSquares:
    """y = b0 + b1 (x - origin).

    Examples
    --------
    >>> [round(float(value), 6) for value in straight_line([0, 1, 2], [1, 3, 5]).values]
    [1.0, 2.0]
    """
    column = np.asarray(x, dtype=float).ravel() - origin
    return solve(np.column_stack([np.ones_like(column), column]), y, sd)


def outliers(fit: LeastSquares, resolution: float = 0.0, risk: float = 0.05) -> tuple[int, ...]:
    """Measurements that stand out from the rest; they are named, never dropped.

    Each residual is compared with the spread of the others (externally studentised) against Student's t, the risk
    shared between all of them (Bonferroni). Fewer than four measurements, or one degree of freedom, name none.

    Parameters
    ----------
    fit
        An unweighted fit.
    resolution
        Smallest step of the reading; the others' spread is never taken smaller than half of it.
    risk
        Chance of naming any when all belong together.

    Examples
    --------
    >>> outliers(through_origin([100] * 6, [100, 101, 99, 100, 101, 140]))
    (5,)
    >>> outliers(through_origin([100] * 6, [100, 101, 99, 100, 101, 102]))
    ()
    """
    n = len(fit.residuals)
    degrees = fit.degrees - 1
    if n < 4 or degrees < 1:
        return ()
    room = np.maximum(1.0 - fit.leverage, 1e-12)
    square = float(fit.residuals @ fit.residuals)
    others = np.sqrt(np.maximum(square - fit.residuals**2 / room, 0.0) / degrees)
    scale = float(np.abs(fit.residuals).max())
    others = np.maximum(others, max(resolution / 2.0, 1e-9 * scale, 1e-300))
    studentised = np.abs(fit.residuals) / (others * np.sqrt(room))
    limit = float(special.stdtrit(degrees, 1.0 - risk / (2.0 * n)))
    return tuple(int(i) for i in np.flatnonzero(studentised > limit))
