"""A camera: a pinhole with radial distortion, at a place above the table.

The pinhole and its two coefficients of radial distortion are those of Zhang (2000), "A flexible new technique for
camera calibration", IEEE Transactions on Pattern Analysis and Machine Intelligence 22(11), sections 2.1 and 3.3; the
distortion itself is that of Brown (1966), "Decentering distortion of lenses", Photogrammetric Engineering 32(3), without
its decentring part. Both from memory; the tests hold the formulas against OpenCV's.

The table is the plane z = 0 with x to the right, y away and z up, in mm. A picture's u runs right and v down, in pixels,
the middle of its first pixel at (0, 0).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from motion.chance.least_squares import Array
from motion.course.sentences import _
from motion.errors import FitError, MotionCode

#: Newton's steps until a pixel's ray is found; more are needed only where the distortion folds the picture.
MOST_STEPS = 30
#: What the distortion leaves of a step outwards where a pixel is still taken to say something.
LEAST_SLOPE = 0.05


@dataclass(frozen=True)
class Lens:
    """Ideal coordinates (x/z, y/z) to pixels: focal length and middle in pixels, radial coefficients without unit."""

    focal_px: float
    middle_u_px: float
    middle_v_px: float
    k1: float = 0.0
    k2: float = 0.0

    def pixels(self, ideal: ArrayLike) -> Array:
        """Pixels of ideal coordinates, both of shape (n, 2): x (1 + k1 r^2 + k2 r^4).

        Examples
        --------
        >>> Lens(1000.0, 500.0, 400.0, k1=-0.1).pixels([[0.5, 0.0]]).tolist()
        [[987.5, 400.0]]
        """
        xy = np.atleast_2d(np.asarray(ideal, dtype=float))
        square = np.sum(xy * xy, axis=1, keepdims=True)
        bent = xy * (1.0 + square * (self.k1 + self.k2 * square))
        return self.focal_px * bent + (self.middle_u_px, self.middle_v_px)

    def ideal(self, pixels: ArrayLike) -> Array:
        """The ideal coordinates of pixels, both of shape (n, 2); the other way of :meth:`pixels`, by Newton's steps.

        Raises
        ------
        FitError
            ``folded`` where the distortion folds the picture, so that a pixel belongs to no ray or to two, or squeezes it to a
            twentieth and less, so that a pixel says nothing.

        Examples
        --------
        >>> Lens(1000.0, 500.0, 400.0, k1=-0.1).ideal([[987.5, 400.0]]).round(9).tolist()
        [[0.5, 0.0]]
        """
        bent = (np.atleast_2d(np.asarray(pixels, dtype=float)) - (self.middle_u_px, self.middle_v_px)) / self.focal_px
        far = np.hypot(bent[:, 0], bent[:, 1])
        radius = far.copy()
        for _again in range(MOST_STEPS):
            square = radius * radius
            slope = 1.0 + square * (3.0 * self.k1 + 5.0 * self.k2 * square)
            if not (np.isfinite(slope).all() and (slope > LEAST_SLOPE).all()):
                break
            step = (radius * (1.0 + square * (self.k1 + self.k2 * square)) - far) / slope
            radius = radius - step
            if float(np.abs(step).max(initial=0.0)) < 1e-12:
                return bent * np.divide(radius, far, out=np.ones_like(far), where=far > 0.0)[:, None]
        raise FitError(
            MotionCode.FOLDED,
            _("The lens bends this picture too much at its edge; step back so that all marks are nearer the middle."),
        )


@dataclass(frozen=True)
class Camera:
    """A lens at ``place`` (x, y, z), mm; rows of ``rotation`` are the picture's right, its down and the look ahead."""

    lens: Lens
    rotation: Array
    place: Array

    def pixels(self, points: ArrayLike) -> Array:
        """Where points (n, 3) in mm are in the picture, (n, 2); NaN for what is not in front of the camera.

        Examples
        --------
        Straight down from one metre above the table's corner, with the picture's top towards y:

        >>> camera = Camera(Lens(1000.0, 500.0, 400.0), np.diag([1.0, -1.0, -1.0]), np.array([0.0, 0.0, 1000.0]))
        >>> camera.pixels([[100.0, 50.0, 0.0]]).tolist()
        [[600.0, 350.0]]
        """
        seen = (np.atleast_2d(np.asarray(points, dtype=float)) - self.place) @ self.rotation.T
        depth = np.where(seen[:, 2] > 1e-9, seen[:, 2], np.nan)
        return self.lens.pixels(seen[:, :2] / depth[:, None])

    def points(self, pixels: ArrayLike, height_mm: float = 0.0) -> Array:
        """Where the rays of pixels (n, 2) meet the plane ``height_mm`` above the table, (n, 2) in mm.

        Raises
        ------
        FitError
            ``folded`` as :meth:`Lens.ideal`, ``out_of_range`` for a pixel that looks past the table.

        Examples
        --------
        >>> camera = Camera(Lens(1000.0, 500.0, 400.0), np.diag([1.0, -1.0, -1.0]), np.array([0.0, 0.0, 1000.0]))
        >>> camera.points([[600.0, 350.0]]).tolist(), camera.points([[600.0, 350.0]], height_mm=500.0).tolist()
        ([[100.0, 50.0]], [[50.0, 25.0]])
        """
        ideal = self.lens.ideal(pixels)
        rays = np.column_stack([ideal, np.ones(len(ideal))]) @ self.rotation
        drop = self.place[2] - height_mm
        if not (rays[:, 2] * drop < 0.0).all():
            raise FitError(MotionCode.OUT_OF_RANGE, _("This place in the picture is past the table; choose one on it."))
        return self.place[:2] - rays[:, :2] * (drop / rays[:, 2])[:, None]

    def looks_down_deg(self, at: ArrayLike) -> float:
        """How steeply the camera looks down at a place (x, y) on the table: 90 from straight above.

        Examples
        --------
        >>> camera = Camera(Lens(1000.0, 500.0, 400.0), np.diag([1.0, -1.0, -1.0]), np.array([0.0, 0.0, 1000.0]))
        >>> round(camera.looks_down_deg([0.0, 1000.0]), 6)
        45.0
        """
        x, y = np.asarray(at, dtype=float)
        return math.degrees(math.atan2(self.place[2], math.hypot(self.place[0] - x, self.place[1] - y)))


def turned_by(vector: ArrayLike) -> Array:
    """The rotation matrix (3, 3) about ``vector`` by its length in radians (Rodrigues' formula).

    Examples
    --------
    >>> turned_by([0.0, 0.0, np.pi / 2]).round(9).tolist()
    [[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]
    """
    x, y, z = (float(part) for part in np.asarray(vector, dtype=float))
    angle = math.sqrt(x * x + y * y + z * z)
    across = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    if angle < 1e-8:
        return np.eye(3) + across
    half = math.sin(angle / 2.0) / angle
    return np.eye(3) + (math.sin(angle) / angle) * across + (2.0 * half * half) * (across @ across)
