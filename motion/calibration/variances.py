"""Spreads that lie on top of each other, taken apart by runs of different size.

Independent readings y = A b + e, where var(e_i) = known_i + sum over k of shares_ik * variance_k: a tape's reading is
known, a run's own spread grows with its distance in a way that ``shares`` says. The variances are those of the largest
restricted likelihood (Patterson and Thompson, "Recovery of inter-block information when block sizes are unequal",
Biometrika 58(3):545-554, 1971; from memory), never below zero, found by Fisher scoring; the coefficients are the
generalised least squares ones for them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from motion.chance.least_squares import Array, LeastSquares, solve
from motion.course.sentences import _
from motion.errors import FitError, MotionCode

STEPS, HALVINGS = 100, 30
#: The largest size is at least this many times the smallest before two effects of size are told apart: below, the
#: smaller of two slips in reading would decide. Common practice, no source.
APART = 1.5


@dataclass(frozen=True)
class Variances:
    """What ``fit_variances`` found.

    Attributes
    ----------
    variances
        Of each component, shape (k,), none below zero.
    degrees
        Degrees of freedom of each: 2 v^2 / var(v) (Satterthwaite), between 1 and n - m.
    sd
        Standard deviation of each reading, shape (n,).
    fit
        The coefficients for these, weighted by ``sd``.
    """

    variances: Array
    degrees: Array
    sd: Array
    fit: LeastSquares


def fit_variances(design: ArrayLike, observed: ArrayLike, shares: ArrayLike, known: ArrayLike) -> Variances:
    """The variances and coefficients of the largest restricted likelihood.

    Parameters
    ----------
    design, observed
        A, shape (n, m), and y, shape (n,), n > m.
    shares
        Shape (n, k), none negative: how much of each component's variance a reading has.
    known
        Variance of a reading beside the components, one number or shape (n,), none negative.

    Raises
    ------
    FitError
        ``too_few`` when n is not above m; as ``least_squares.solve``.

    Examples
    --------
    >>> shares = np.array([[1.0], [1.0], [4.0], [4.0]])
    >>> found = fit_variances(np.ones((4, 1)), [9.0, 11.0, 8.0, 12.0], shares, 0.0)
    >>> [round(float(v), 3) for v in (found.fit.values[0], found.variances[0], found.degrees[0])]
    [10.0, 1.333, 3.0]
    """
    a, y, parts = np.asarray(design, dtype=float), np.asarray(observed, dtype=float), np.asarray(shares, dtype=float)
    n, m = a.shape
    if n <= m:
        raise FitError(
            MotionCode.TOO_FEW, _("{n} runs show no spread about {m} fitted numbers; measure one run more.", n=n, m=m)
        )
    plain = solve(a, y)
    # in units of the scatter, so that no unit of length or angle matters
    unit = max(plain.residual_sd**2, 1e-18 * float(np.mean(y**2)), 1e-300)
    sizes = parts.mean(axis=0)
    model = _Model(a, y, parts / sizes * unit, np.broadcast_to(np.asarray(known, dtype=float), (n,)) + 1e-12 * unit)
    k = parts.shape[1]
    starts = [np.full(k, 1.0 / k), *np.eye(k)] if k > 1 else [np.ones(1)]
    best = max((model.climb(start) for start in starts), key=model.likelihood)
    variance = model.variance(best)
    sd = np.sqrt(variance)
    spread = np.diag(np.linalg.pinv(model.slope(best)[1]))
    degrees = np.clip(2.0 * best**2 / np.maximum(spread, 1e-300), 1.0, float(n - m))
    return Variances(best * unit / sizes, degrees, sd, solve(a, y, sd))


@dataclass(frozen=True)
class _Model:
    a: Array
    y: Array
    shares: Array
    known: Array

    def variance(self, v: Array) -> Array:
        return self.known + self.shares @ v

    def _weighted(self, v: Array) -> tuple[Array, Array, Array]:
        """Weights, (A'WA)^-1 and weighted residuals W(y - A b)."""
        w = 1.0 / self.variance(v)
        inverse = np.asarray(np.linalg.inv((self.a.T * w) @ self.a), dtype=np.float64)
        return w, inverse, w * (self.y - self.a @ (inverse @ (self.a.T @ (w * self.y))))

    def likelihood(self, v: Array) -> float:
        w, inverse, pull = self._weighted(v)
        rest = float(np.sum(pull**2 / w))
        return 0.5 * (float(np.log(w).sum()) + float(np.linalg.slogdet(inverse)[1]) - rest)

    def slope(self, v: Array) -> tuple[Array, Array]:
        """Of the likelihood, and its expected information."""
        w, inverse, pull = self._weighted(v)
        k = self.shares.shape[1]
        inner = [(self.a.T * (w**2 * part)) @ self.a @ inverse for part in self.shares.T]
        slope = np.array(
            [0.5 * (pull**2 @ part - w @ part + np.trace(inner[i])) for i, part in enumerate(self.shares.T)]
        )
        information = np.empty((k, k))
        for i in range(k):
            for j in range(k):
                both = self.shares[:, i] * self.shares[:, j]
                cross = np.trace((self.a.T * (w**3 * both)) @ self.a @ inverse)
                information[i, j] = 0.5 * (float(w**2 @ both) - 2.0 * cross + float(np.trace(inner[i] @ inner[j])))
        return slope, information

    def climb(self, v: Array) -> Array:
        """Fisher scoring over the components that are above zero or want to be."""
        here = self.likelihood(v)
        for _again in range(STEPS):
            slope, information = self.slope(v)
            free = (v > 0.0) | (slope > 0.0)
            step = np.zeros_like(v)
            step[free] = np.linalg.lstsq(information[np.ix_(free, free)], slope[free], rcond=None)[0]
            for _half in range(HALVINGS):
                tried = np.maximum(v + step, 0.0)
                there = self.likelihood(tried)
                if there >= here:
                    break
                step /= 2.0
            else:
                return v
            moved = float(np.abs(tried - v).max())
            v, here = tried, there
            if moved <= 1e-10 * (1.0 + float(v.max())):
                break
        return v


def widened(degrees: float) -> float:
    """Factor that makes twice a standard uncertainty from few runs hold the truth as often as two of a normal's do.

    Half of Student's t at 95.45 % (GUM, JCGM 100:2008, table G.2): 1.43 for four degrees of freedom, towards 1.

    Examples
    --------
    >>> [round(widened(degrees), 2) for degrees in (1, 4, 9, 1000)]
    [6.98, 1.43, 1.16, 1.0]
    """
    return float(special.stdtrit(degrees, special.ndtr(2.0))) / 2.0


def unbiased_sd(variance: float, degrees: float) -> float:
    """A standard deviation that is right on average: the root of a variance from few runs is too small.

    Divided by c4 = sqrt(2 / f) G((f + 1) / 2) / G(f / 2), the mean of a chi with f degrees of freedom over sqrt(f).

    Examples
    --------
    >>> round(unbiased_sd(4.0, 4.0), 3)
    2.128
    """
    return math.sqrt(variance) / _c4(degrees)


def root_of_variance(sd: float, degrees: float) -> float:
    """The inverse of :func:`unbiased_sd`: what is to be pooled with other variances by degrees of freedom.

    >>> round(root_of_variance(unbiased_sd(4.0, 4.0), 4.0), 9)
    2.0
    """
    return sd * _c4(degrees)


def _c4(degrees: float) -> float:
    half = degrees / 2.0
    return math.exp(float(special.gammaln(half + 0.5) - special.gammaln(half)) - 0.5 * math.log(half))


def tells_apart(sizes: ArrayLike) -> bool:
    """Whether the runs differ enough in size (``APART``).

    Examples
    --------
    >>> tells_apart([600, -900]), tells_apart([1080, 1085])
    (True, False)
    """
    size = np.abs(np.asarray(sizes, dtype=float))
    return bool(size.max() >= APART * size.min())
