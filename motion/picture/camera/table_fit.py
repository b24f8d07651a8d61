"""Camera, distortion and table from one picture of a few square marks, all fitted together by least squares.

Fitted are the camera's place and direction (6), its focal length and middle (3), two coefficients of radial distortion
(2), the printer's scale (1), and of each mark its place on the table and how askew it lies (3 each). Observed are
the marks' corners in the picture (8 each). What is known beforehand stands beside them as observations of its own, each
with its uncertainty: where the marks were said to be laid, that the print was held against a ruler, and what cameras
are like. So a number that the picture does not tell stays as unsure as it was, and says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize

from motion.chance.least_squares import NINETEEN_IN_TWENTY, Array
from motion.course.sentences import _
from motion.errors import FitError, MotionCode
from motion.picture.camera.equations import CAMERA_STEPS, CAMERA_UNKNOWNS, Equations, camera_off
from motion.picture.camera.laid import SCALE_SD, LaidMark, SeenMark
from motion.picture.camera.lens import Camera

#: Of a place tapped under a magnifier, pixels.
TAP_SD_PX = 1.5
#: Evaluations of a fit until it is given up.
MOST_STEPS = 60


@dataclass(frozen=True)
class SeenPlaces:
    """Places on the table in mm, (n, 2), with their covariance together, (2n, 2n): x and y of the first, of the second."""

    places_mm: Array
    covariance: Array

    @property
    def sd_mm(self) -> Array:
        """Standard uncertainty along x and y, (n, 2)."""
        return np.sqrt(np.diag(self.covariance)).reshape(-1, 2)

    def distance(self, i: int, j: int) -> tuple[float, float]:
        """Between two of the places, and its standard uncertainty: what both share does not count."""
        apart = self.places_mm[j] - self.places_mm[i]
        length = float(np.hypot(*apart))
        row = np.zeros(len(self.covariance))
        row[2 * j : 2 * j + 2] = apart / max(length, 1e-9)
        row[2 * i : 2 * i + 2] -= apart / max(length, 1e-9)
        return length, math.sqrt(float(row @ self.covariance @ row))


@dataclass(frozen=True)
class TablePicture:
    """A picture in which places on the table can be measured.

    Attributes
    ----------
    camera
        As fitted.
    covariance
        Of the camera's eleven unknowns about it, (11, 11); :meth:`camera_at` says which they are.
    print_scale
        Printed sides over said sides.
    marks
        Middle and turn (x, y, degrees) of each mark as fitted, (m, 3), in the order given.
    pixel_residuals
        Corners as found minus as fitted, (m, 4, 2).
    standardised
        Everything observed against its own uncertainty: corners first, (8 m,), then print and camera, (6,), then where
        marks were laid, (3 m,).
    degrees
        Observations minus unknowns.
    size_px
        Width and height of the picture.
    shared
        How the camera's unknowns follow what every picture of this table has alike, (11, n), as
        :meth:`Equations.shared` counts it.
    """

    camera: Camera
    covariance: Array
    print_scale: float
    marks: Array
    pixel_residuals: Array
    standardised: Array
    degrees: int
    size_px: tuple[int, int]
    shared: Array = field(default_factory=lambda: np.zeros((CAMERA_UNKNOWNS, 0)))

    @property
    def misfit(self) -> float:
        """Sum of the squares of all that was observed against its uncertainty: chi-squared with ``degrees``."""
        return float(self.standardised @ self.standardised)

    @property
    def residual_px(self) -> float:
        """Root mean square of the corners' residuals."""
        return float(np.sqrt(np.mean(self.pixel_residuals**2)))

    def camera_at(self, off: ArrayLike) -> Camera:
        """The camera with its unknowns off by (11,): focal length (its logarithm), middle, k1, k2, turn, place."""
        return camera_off(np.asarray(off, dtype=float), self.camera)

    def places(
        self, pixels: ArrayLike, sd_px: float = TAP_SD_PX, height_mm: float = 0.0, height_sd_mm: float = 0.0
    ) -> SeenPlaces:
        """Places on the table, or ``height_mm`` above it, of pixels (n, 2).

        Parameters
        ----------
        pixels
            As found or tapped.
        sd_px
            Standard uncertainty of each of their coordinates.
        height_mm, height_sd_mm
            Of what is seen above the table, all of it together.

        Raises
        ------
        FitError
            As :meth:`Camera.points`.
        """
        points = np.atleast_2d(np.asarray(pixels, dtype=float))
        middle = self.camera.points(points, height_mm)
        n = len(points)
        by_camera = np.empty((2 * n, CAMERA_UNKNOWNS))
        for k, step in enumerate(CAMERA_STEPS):
            off = np.zeros(CAMERA_UNKNOWNS)
            off[k] = step
            ahead, behind = (camera_off(way * off, self.camera).points(points, height_mm) for way in (1.0, -1.0))
            by_camera[:, k] = (ahead - behind).ravel() / (2.0 * step)
        covariance = by_camera @ self.covariance @ by_camera.T
        by_u, by_v = ((self.camera.points(points + d, height_mm) - middle) / 0.1 for d in ((0.1, 0.0), (0.0, 0.1)))
        for i in range(n):
            own = np.column_stack([by_u[i], by_v[i]])
            covariance[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] += sd_px**2 * own @ own.T
        if height_sd_mm:
            by_height = (self.camera.points(points, height_mm + 0.1) - middle).ravel() / 0.1
            covariance += height_sd_mm**2 * np.outer(by_height, by_height)
        return SeenPlaces(middle, covariance)

    def sure_to_mm(self, width_mm: float, depth_mm: float, sd_px: float = TAP_SD_PX) -> float:
        """Half the 95 % range of a coordinate at the table's least sure place: on it, found to ``sd_px`` in the picture."""
        x, y = np.meshgrid(np.linspace(0.0, width_mm, 5), np.linspace(0.0, depth_mm, 3))
        on_table = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])
        return NINETEEN_IN_TWENTY * float(self.places(self.camera.pixels(on_table), sd_px).sd_mm.max())


def fit_table(
    laid: Sequence[LaidMark],
    seen: Sequence[SeenMark],
    size_px: tuple[int, int],
    scale_sd: float = SCALE_SD,
    start: Camera | None = None,
) -> TablePicture:
    """Fit camera, distortion, print and marks; nothing is refused for fitting badly (``refusals.check_fit`` does).

    Parameters
    ----------
    laid
        Marks as they were laid. Those that are not seen are left out.
    seen
        Marks as found in the picture. Those that were not laid are left out.
    size_px
        Width and height of the picture.
    scale_sd
        How unsure the printer's scale is.
    start
        A camera to start from; without one, those that the marks suggest.

    Raises
    ------
    FitError
        ``mirrored``, ``no_spread`` (all marks seem to be in one place), ``no_convergence``; too few marks and the like
        are for ``refusals.check_marks`` to say first.

    Examples
    --------
    A picture of four marks made with a known camera, then fitted:

    >>> from motion.picture.camera.laid import square_corners
    >>> from motion.picture.camera.lens import Lens, turned_by
    >>> laid = [LaidMark(i, x, y, 150.0) for i, (x, y) in enumerate([(95, 95), (2305, 95), (95, 1105), (2305, 1105)])]
    >>> camera = Camera(Lens(2900.0, 1999.5, 1499.5, k1=0.05), turned_by([2.4, 0.0, 0.0]), np.array([1200.0, -300.0, 1800.0]))
    >>> def corners(mark):
    ...     return np.column_stack([square_corners(150.0, mark.x_mm, mark.y_mm), np.zeros(4)])
    >>> seen = [SeenMark(mark.number, camera.pixels(corners(mark)), 0.2) for mark in laid]
    >>> found = fit_table(laid, seen, (4000, 3000))
    >>> found.places(camera.pixels([[700.0, 400.0, 0.0]])).places_mm.round(1).tolist()
    [[700.0, 400.0]]
    >>> bool(found.residual_px < 0.1), bool(found.sure_to_mm(2400.0, 1200.0) < 5.0)
    (True, True)
    """
    equations = Equations(laid, seen, size_px, scale_sd)
    best = None
    for start in equations.starts():
        if not np.isfinite(equations.residuals(np.zeros(equations.unknowns), start)).all():
            continue  # a mark behind the camera
        found = optimize.least_squares(
            equations.residuals,
            np.zeros(equations.unknowns),
            args=(start,),
            x_scale=equations.sizes,
            max_nfev=MOST_STEPS,
        )
        if best is None or found.cost < 0.99 * best[0].cost:
            best = found, start
        if 2.0 * best[0].cost < 3.0 * equations.rows:
            break
    if best is None or not np.isfinite(best[0].cost):
        raise FitError(
            MotionCode.NO_CONVERGENCE,
            _("These marks fit no camera; take another picture from where all are seen well."),
        )
    return _report(equations, best[0].x, best[1])


def _report(equations: Equations, off: Array, start: Camera) -> TablePicture:
    camera = camera_off(off[:CAMERA_UNKNOWNS], start)
    # Differences about the fitted camera itself, so that its turn's covariance is about it.
    rest = np.concatenate([np.zeros(CAMERA_UNKNOWNS), off[CAMERA_UNKNOWNS:]])
    slopes = equations.slopes(rest, camera)
    size = np.linalg.norm(slopes, axis=0)
    inverse = np.linalg.pinv(slopes / size) / size[:, None]
    covariance = (inverse @ inverse.T)[:CAMERA_UNKNOWNS, :CAMERA_UNKNOWNS]
    standardised = equations.residuals(rest, camera)
    return TablePicture(
        camera,
        covariance,
        float(np.exp(off[CAMERA_UNKNOWNS])),
        equations.marks(off),
        equations.pixel_residuals(rest, camera),
        standardised,
        len(standardised) - equations.unknowns,
        equations.size_px,
        equations.shared(inverse),
    )
