"""How far a thing stands from where it should, seen from a place: too near, to the side, turned, and how surely."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from motion.calibration.placing import place_outline
from motion.chance.least_squares import NINETEEN_IN_TWENTY, Array
from motion.course.sentences import _
from motion.errors import FitError, MotionCode
from motion.scene.records import Point, Polygon


@dataclass(frozen=True)
class Off:
    """A number with half its 95 % range."""

    value: float
    half: float

    @property
    def is_sure(self) -> bool:
        """Whether it is other than nothing for sure."""
        return abs(self.value) > self.half


@dataclass(frozen=True)
class StandsOff:
    """Too ``near`` and to the ``left`` as seen from a place, mm; ``turned`` to the left, degrees: None by one corner."""

    near: Off
    left: Off
    turned: Off | None

    @property
    def is_sure(self) -> bool:
        return self.near.is_sure or self.left.is_sure or (self.turned is not None and self.turned.is_sure)


def stands_off(outline: Polygon, corners: Mapping[int, Point], covariance: Array, seen_from: Point) -> StandsOff:
    """Corners as measured against where ``outline`` has them.

    Parameters
    ----------
    corners
        Index into ``outline`` to the measured (x, y), mm.
    covariance
        Of the measured coordinates, x and y of each corner in turn, (2n, 2n).
    seen_from
        From where near and left are said, such as the middle of the base.

    Raises
    ------
    FitError
        ``too_few``, ``no_such_corner``; ``shape`` for a covariance of another size.

    Examples
    --------
    A box 2 mm nearer than it should be, each coordinate sure to a standard uncertainty of 1 mm:

    >>> box = ((100.0, 0.0), (120.0, 0.0), (120.0, 20.0), (100.0, 20.0))
    >>> found = stands_off(box, {0: (98.0, 0.0), 3: (98.0, 20.0)}, np.eye(4), (0.0, 10.0))
    >>> round(found.near.value, 3), round(found.near.half, 2), found.near.is_sure
    (2.0, 1.39, True)
    >>> round(found.turned.value, 3) + 0.0, found.turned.is_sure
    (0.0, False)
    """
    flat = np.array([coordinate for place in corners.values() for coordinate in place], dtype=float)
    if covariance.shape != (len(flat), len(flat)):
        raise FitError(MotionCode.SHAPE, _("Each measured corner needs its uncertainty; give as many of both."))
    middle = (sum(x for x, _ in outline) / len(outline), sum(y for _, y in outline) / len(outline))
    away = (middle[0] - seen_from[0], middle[1] - seen_from[1])
    far = math.hypot(*away)
    ahead = (away[0] / far, away[1] / far) if far > 1e-9 else (0.0, 1.0)

    def off(places: Array) -> Array:
        pairs = {index: (float(x), float(y)) for index, (x, y) in zip(corners, places.reshape(-1, 2), strict=True)}
        placing = place_outline(outline, pairs)
        to = placing.point(middle)
        dx, dy = to[0] - middle[0], to[1] - middle[1]
        return np.array([-(dx * ahead[0] + dy * ahead[1]), dy * ahead[0] - dx * ahead[1], placing.turn_deg])

    values = off(flat)
    slopes = np.column_stack([(off(flat + step) - off(flat - step)) / 0.02 for step in 0.01 * np.eye(len(flat))])
    half = NINETEEN_IN_TWENTY * np.sqrt(np.diag(slopes @ covariance @ slopes.T))
    near, left, turned = (Off(float(value), float(width)) for value, width in zip(values, half, strict=True))
    return StandsOff(near, left, turned if len(corners) > 1 else None)
