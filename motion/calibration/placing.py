"""Where a thing of known shape really stands, from some of its corners as measured."""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping
from dataclasses import dataclass

from motion.course.sentences import _
from motion.errors import FitError, MotionCode
from motion.scene.records import Point, Polygon, Pose


@dataclass(frozen=True)
class Placing:
    """Turned by ``turn_deg`` (counter-clockwise) about the origin, then moved by ``dx_mm`` and ``dy_mm``.

    ``residual_mm`` is the farthest that a measured corner is from where the placed shape has it; 0 for one corner.
    """

    turn_deg: float
    dx_mm: float
    dy_mm: float
    residual_mm: float

    def point(self, p: Point) -> Point:
        c, s = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        return c * p[0] - s * p[1] + self.dx_mm, s * p[0] + c * p[1] + self.dy_mm

    def outline(self, outline: Polygon) -> Polygon:
        return tuple(self.point(corner) for corner in outline)

    def pose(self, pose: Pose) -> Pose:
        x, y = self.point((pose.x_mm, pose.y_mm))
        return Pose(x, y, math.remainder(pose.heading_deg + self.turn_deg, 360.0))


def place_outline(outline: Polygon, corners: Mapping[int, Point]) -> Placing:
    """The rigid motion that brings corners of ``outline`` nearest to their measured places, by least squares.

    In the plane, with corners as complex numbers about their centroids, the turn is the angle of the sum of measured
    times conjugate nominal (the two-dimensional case of the orthogonal Procrustes problem, Schoenemann 1966, from
    memory). One corner moves the shape without turning it.

    Parameters
    ----------
    corners
        Index into ``outline`` to the measured (x, y), mm.

    Raises
    ------
    FitError
        ``too_few`` without a corner, ``no_such_corner``.

    Examples
    --------
    >>> square = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))
    >>> place_outline(square, {0: (5.0, 7.0)}).point((10.0, 10.0))
    (15.0, 17.0)
    """
    if not corners:
        raise FitError(MotionCode.TOO_FEW, _("Measure at least one corner."))
    if any(not 0 <= index < len(outline) for index in corners):
        raise FitError(MotionCode.NO_SUCH_CORNER, _("The shape has no such corner; choose one from the list."))
    nominal = [complex(*outline[index]) for index in corners]
    measured = [complex(*place) for place in corners.values()]
    middle = sum(nominal) / len(nominal)
    there = sum(measured) / len(measured)
    cross = sum(
        ((b - there) * (a - middle).conjugate() for a, b in zip(nominal, measured, strict=True)), start=complex(0)
    )
    turn = cmath.phase(cross) if abs(cross) > 1e-9 else 0.0
    shift = there - cmath.rect(1.0, turn) * middle
    off = max(abs(cmath.rect(1.0, turn) * a + shift - b) for a, b in zip(nominal, measured, strict=True))
    return Placing(math.degrees(turn), shift.real, shift.imag, off)
