"""A first idea of a camera from a flat thing of known shape: the homography, and the camera that it belongs to."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from motion.chance.least_squares import Array
from motion.course.sentences import _
from motion.errors import FitError, MotionCode
from motion.picture.camera.lens import Camera, Lens


def homography(plane: ArrayLike, pixels: ArrayLike) -> Array:
    """The matrix (3, 3), its last entry 1, that takes places in a plane to pixels, both of shape (n, 2), n >= 4.

    The normalised direct linear transformation: Hartley (1997), "In defense of the eight-point algorithm", IEEE
    Transactions on Pattern Analysis and Machine Intelligence 19(6), as applied to homographies (from memory; the tests
    hold it against OpenCV's and against the closed form for a square).

    Raises
    ------
    FitError
        ``shape``, ``not_finite``, ``too_few``, ``no_spread`` (all on one line, or the picture's last line is at infinity).

    Examples
    --------
    >>> h = homography([[0, 0], [1, 0], [1, 1], [0, 1]], [[10, 10], [30, 10], [30, 50], [10, 50]])
    >>> (h @ [0.5, 0.5, 1.0]).round(9).tolist()
    [20.0, 30.0, 1.0]
    """
    a, b = np.asarray(plane, dtype=float), np.asarray(pixels, dtype=float)
    if a.ndim != 2 or a.shape != b.shape or a.shape[1] != 2:
        raise FitError(MotionCode.SHAPE, _("Each place needs its pixel; give as many of both."))
    if not (np.isfinite(a).all() and np.isfinite(b).all()):
        raise FitError(MotionCode.NOT_FINITE, _("A place or a pixel is not a number; leave it out."))
    if len(a) < 4:
        raise FitError(MotionCode.TOO_FEW, _("Four places fix a flat picture; give at least four."))
    to_a, to_b = _normal(a), _normal(b)
    x, y = (np.column_stack([a, np.ones(len(a))]) @ to_a.T)[:, :2].T
    u, v = (np.column_stack([b, np.ones(len(b))]) @ to_b.T)[:, :2].T
    one, none = np.ones(len(a)), np.zeros(len(a))
    upper = np.column_stack([x, y, one, none, none, none, -u * x, -u * y, -u])
    lower = np.column_stack([none, none, none, x, y, one, -v * x, -v * y, -v])
    _left, size, right = np.linalg.svd(np.vstack([upper, lower]))
    if len(size) > 7 and size[7] < 1e-9 * size[0]:
        raise FitError(MotionCode.NO_SPREAD, _("The places lie on one line; take some beside it."))
    found = np.linalg.inv(to_b) @ right[-1].reshape(3, 3) @ to_a
    if abs(found[2, 2]) < 1e-12 * np.abs(found).max():
        raise FitError(
            MotionCode.NO_SPREAD, _("The places' origin is out of the picture's sight; take another origin.")
        )
    return found / found[2, 2]


def _normal(points: Array) -> Array:
    """Moves points about the origin and scales them to a mean distance of the square root of two."""
    middle = points.mean(axis=0)
    spread = float(np.hypot(*(points - middle).T).mean())
    if spread == 0.0:
        raise FitError(MotionCode.NO_SPREAD, _("All places are one; take some apart from each other."))
    k = math.sqrt(2.0) / spread
    return np.array([[k, 0.0, -k * middle[0]], [0.0, k, -k * middle[1]], [0.0, 0.0, 1.0]])


def focal_of(h: Array, middle: tuple[float, float]) -> float | None:
    """The focal length in pixels of a homography in mm, its lens's middle given; None where it says nothing.

    Zhang (2000), section 3.1: the first two columns, without the lens, are square to each other and of one length. Seen
    from straight above neither says anything.

    Examples
    --------
    >>> focal_of(np.eye(3), (0.0, 0.0)) is None
    True
    """
    away = np.array([[1.0, 0.0, -middle[0]], [0.0, 1.0, -middle[1]], [0.0, 0.0, 1.0]])
    first, second = (away @ h)[:, 0], (away @ h)[:, 1]
    # (a1 a2 + b1 b2) / f^2 + c1 c2 = 0 and (a1^2 + b1^2 - a2^2 - b2^2) / f^2 + c1^2 - c2^2 = 0, weighted together.
    tops = np.array([first[:2] @ second[:2], first[:2] @ first[:2] - second[:2] @ second[:2]])
    ends = np.array([first[2] * second[2], first[2] ** 2 - second[2] ** 2])
    if float(np.abs(tops).max()) == 0.0 or float(np.abs(ends).max()) == 0.0:
        return None
    square = -float(tops @ tops) / float(tops @ ends) if float(tops @ ends) != 0.0 else -1.0
    return math.sqrt(square) if square > 0.0 else None


def camera_of(h: Array, lens: Lens) -> Camera:
    """The camera with that lens, distortion left out, that sees the table nearest to homography ``h`` (mm to pixels).

    Raises
    ------
    FitError
        ``mirrored``: the picture shows the table in a mirror.

    Examples
    --------
    >>> down = np.array([[1.0, 0.0, 500.0], [0.0, -1.0, 400.0], [0.0, 0.0, 1.0]])
    >>> camera_of(down, Lens(1000.0, 500.0, 400.0)).place.round(6).tolist()
    [0.0, 0.0, 1000.0]
    """
    to_rays = np.array(
        [
            [1.0 / lens.focal_px, 0.0, -lens.middle_u_px / lens.focal_px],
            [0.0, 1.0 / lens.focal_px, -lens.middle_v_px / lens.focal_px],
            [0.0, 0.0, 1.0],
        ]
    )
    columns = to_rays @ h
    columns = columns / math.sqrt(float(np.linalg.norm(columns[:, 0]) * np.linalg.norm(columns[:, 1])))
    first, second, shift = columns.T
    up = np.cross(first, second)
    u, _size, v = np.linalg.svd(np.column_stack([first, second, up]))
    rotation = u @ v
    place = -rotation.T @ shift
    if place[2] <= 0.0:
        raise FitError(
            MotionCode.MIRRORED,
            _("The picture is mirrored; take it with the camera at the back, with no mirroring switched on."),
        )
    return Camera(lens, rotation, place)
