"""Pose accuracy AP and pose repeatability RP of ISO 9283:1998."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from motion.course.sentences import _
from motion.errors import FitError, MotionCode


class Repeatability(NamedTuple):
    """ISO 9283 figures, in the unit of the points.

    ``accuracy`` (AP): distance from the commanded point to the barycentre of the attained ones.
    ``mean_distance`` and ``distance_sd`` (n - 1): of the attained points from their barycentre.
    ``repeatability`` (RP): mean_distance + 3 distance_sd.
    """

    accuracy: float
    mean_distance: float
    distance_sd: float
    repeatability: float


def repeatability(attained: ArrayLike, commanded: ArrayLike | None = None) -> Repeatability:
    """AP and RP of points that were attained again and again.

    Parameters
    ----------
    attained
        Shape (n, d), n >= 2, d = 1, 2 or 3. The standard asks for 30 cycles; with fewer the figures are rough.
    commanded
        Shape (d,); the origin when None.

    Raises
    ------
    FitError
        ``too_few``, ``not_finite``, ``shape``.

    Examples
    --------
    Three millimetres off on average, each run one millimetre from that average, none more than another.

    >>> [round(number, 6) for number in repeatability([[3, 1], [3, -1], [3, 1], [3, -1]])]
    [3.0, 1.0, 0.0, 1.0]
    """
    points = np.asarray(attained, dtype=float)
    if points.ndim == 1:
        points = points[:, None]
    if points.ndim != 2:
        raise FitError(MotionCode.SHAPE, _("Repeatability is of points: give one row a run."))
    if len(points) < 2:
        raise FitError(MotionCode.TOO_FEW, _("One run shows no spread; measure at least one run more."))
    target = np.zeros(points.shape[1]) if commanded is None else np.asarray(commanded, dtype=float).reshape(-1)
    if target.shape != (points.shape[1],):
        raise FitError(MotionCode.SHAPE, _("The commanded point has as many numbers as each attained one."))
    if not (np.isfinite(points).all() and np.isfinite(target).all()):
        raise FitError(
            MotionCode.NOT_FINITE, _("A measurement is missing or not a number; fill it in or leave its run out.")
        )
    barycentre = points.mean(axis=0)
    distance = np.linalg.norm(points - barycentre, axis=1)
    spread = float(distance.std(ddof=1))
    return Repeatability(
        float(np.linalg.norm(barycentre - target)),
        float(distance.mean()),
        spread,
        float(distance.mean()) + 3.0 * spread,
    )
