"""The equations of one picture: what is observed, with which uncertainty, and the unknowns that it depends on.

An unknown vector is an offset from a camera to start from: logarithm of the focal length, middle (u, v), k1, k2, turn
(3, radians), place (3, mm); then the logarithm of the print's scale; then x, y and turn (degrees) of each mark from
where it was said to be laid.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from motion.chance.least_squares import Array
from motion.picture.camera.homography import camera_of, focal_of, homography
from motion.picture.camera.laid import LaidMark, SeenMark, paper_share, square_corners, weight_px
from motion.picture.camera.lens import Camera, Lens, turned_by

#: What cameras of phones and tablets are like: focal length as a share of the picture's longer side and its spread (a
#: factor), the middle's distance from the picture's as a share of that side, both coefficients. Common practice, no
#: source.
FOCAL_SHARE, FOCAL_SD, MIDDLE_SD, K1_SD, K2_SD = 0.85, 0.35, 0.01, 0.25, 0.15
CAMERA_UNKNOWNS = 11
#: Steps of differences by the camera's unknowns: small against what changes a picture, large against rounding.
CAMERA_STEPS = (1e-5, 1e-2, 1e-2, 1e-5, 1e-5, 1e-6, 1e-6, 1e-6, 1e-2, 1e-2, 1e-2)
#: Sizes of steps that change a picture about alike, for the solver.
_CAMERA_SIZES = (0.01, 10.0, 10.0, 0.02, 0.02, 0.005, 0.005, 0.005, 10.0, 10.0, 10.0)


def camera_off(off: Array, camera: Camera) -> Camera:
    """A camera whose unknowns are off by (11,) from those of ``camera``.

    Examples
    --------
    >>> camera = Camera(Lens(1000.0, 500.0, 400.0), np.eye(3), np.zeros(3))
    >>> camera_off(np.array([0.0, 2.0, 0.0, 0.1, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 5.0]), camera).lens
    Lens(focal_px=1000.0, middle_u_px=502.0, middle_v_px=400.0, k1=0.1, k2=0.0)
    """
    lens = camera.lens
    moved = Lens(
        lens.focal_px * math.exp(float(np.clip(off[0], -5.0, 5.0))),
        lens.middle_u_px + float(off[1]),
        lens.middle_v_px + float(off[2]),
        lens.k1 + float(off[3]),
        lens.k2 + float(off[4]),
    )
    return Camera(moved, turned_by(off[5:8]) @ camera.rotation, camera.place + off[8:11])


class Equations:
    """What one picture observes of the marks that were laid and are seen.

    Attributes
    ----------
    unknowns, rows
        How many unknowns and observations.
    sizes
        Of steps for the solver, (unknowns,).
    """

    def __init__(
        self, laid: Sequence[LaidMark], seen: Sequence[SeenMark], size_px: tuple[int, int], scale_sd: float
    ) -> None:
        pairs = [(mark, sight) for mark in laid for sight in seen if sight.number == mark.number]
        self._of = [i for i, mark in enumerate(laid) for sight in seen if sight.number == mark.number]
        self._laid = len(laid)
        self.size_px = size_px
        self._pixels = np.array([sight.corners_px for _, sight in pairs], dtype=float)
        self._sd_px = np.array([weight_px(sight, mark.side_mm) for mark, sight in pairs])[:, None, None]
        self._sides = np.array([mark.side_mm for mark, _ in pairs])
        self._said = np.array([(mark.x_mm, mark.y_mm, mark.turn_deg) for mark, _ in pairs])
        self._said_sd = np.array([(mark.sd_mm, mark.sd_mm, mark.sd_deg) for mark, _ in pairs])
        self._paper = [paper_share(sight, mark.side_mm) for mark, sight in pairs]
        self._square = square_corners(1.0)
        self._middle = ((size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0)
        self._longer = float(max(size_px))
        self._scale_sd = scale_sd
        self.unknowns = CAMERA_UNKNOWNS + 1 + 3 * len(pairs)
        self.rows = 8 * len(pairs) + 6 + 3 * len(pairs)
        self.sizes = np.concatenate([_CAMERA_SIZES, [0.002], np.tile([2.0, 2.0, 0.5], len(pairs))])

    def starts(self) -> Iterator[Camera]:
        """Cameras to start from, the likeliest first: by the marks as they were said to be laid, without distortion."""
        corners = self._corners(np.zeros(self.unknowns)).reshape(-1, 3)[:, :2]
        h = homography(corners, self._pixels.reshape(-1, 2))
        guess = focal_of(h, self._middle)
        usual = FOCAL_SHARE * self._longer
        near = [guess] if guess is not None and 0.4 * usual < guess < 4.0 * usual else []
        for focal in (*near, usual, 0.7 * usual, 1.6 * usual):
            yield camera_of(h, Lens(focal, *self._middle))

    def marks(self, off: Array) -> Array:
        """Middle and turn (x, y, degrees) of each mark, (m, 3)."""
        return self._said + off[CAMERA_UNKNOWNS + 1 :].reshape(-1, 3)

    def pixel_residuals(self, off: Array, start: Camera) -> Array:
        """Corners as found minus as they would be seen, (m, 4, 2)."""
        seen = camera_off(off[:CAMERA_UNKNOWNS], start).pixels(self._corners(off).reshape(-1, 3))
        return self._pixels - seen.reshape(self._pixels.shape)

    def residuals(self, off: Array, start: Camera) -> Array:
        """All observations minus what they would be, over their uncertainty, (rows,)."""
        lens = camera_off(off[:CAMERA_UNKNOWNS], start).lens
        known = (
            math.log(lens.focal_px / (FOCAL_SHARE * self._longer)) / FOCAL_SD,
            (lens.middle_u_px - self._middle[0]) / (MIDDLE_SD * self._longer),
            (lens.middle_v_px - self._middle[1]) / (MIDDLE_SD * self._longer),
            lens.k1 / K1_SD,
            lens.k2 / K2_SD,
            off[CAMERA_UNKNOWNS] / self._scale_sd,
        )
        moved = off[CAMERA_UNKNOWNS + 1 :].reshape(-1, 3) / self._said_sd
        return np.concatenate([(self.pixel_residuals(off, start) / self._sd_px).ravel(), known, moved.ravel()])

    def slopes(self, off: Array, start: Camera) -> Array:
        """How :meth:`residuals` change with each unknown, (rows, unknowns), by central differences."""
        steps = np.concatenate([CAMERA_STEPS, [1e-6], np.tile([1e-2, 1e-2, 1e-3], len(self._said))])
        columns = []
        for k, step in enumerate(steps):
            move = np.zeros(self.unknowns)
            move[k] = step
            columns.append((self.residuals(off + move, start) - self.residuals(off - move, start)) / (2.0 * step))
        return np.column_stack(columns)

    def shared(self, inverse: Array) -> Array:
        """How the fitted camera follows what all pictures of this table share, (11, 1 + 11 laid), a column a unit variance.

        First the print's scale; then of each mark laid, seen or not, its place and turn (3) and its corners' paper (8).
        ``inverse`` is that of :meth:`slopes`.
        """
        gain = -inverse[:CAMERA_UNKNOWNS]
        pixels, moved = 8 * len(self._paper), 8 * len(self._paper) + 6
        columns = np.zeros((CAMERA_UNKNOWNS, 1 + 11 * self._laid))
        columns[:, 0] = gain[:, moved - 1]
        for k, (of, paper) in enumerate(zip(self._of, self._paper, strict=True)):
            at = 1 + 11 * of
            columns[:, at : at + 3] = gain[:, moved + 3 * k : moved + 3 * k + 3]
            columns[:, at + 3 : at + 11] = gain[:, :pixels][:, 8 * k : 8 * k + 8] @ np.kron(np.eye(4), paper)
        return columns

    def _corners(self, off: Array) -> Array:
        """Corners of the marks on the table, (m, 4, 3)."""
        marks = self.marks(off)
        sides = self._sides * math.exp(off[CAMERA_UNKNOWNS])
        turn = np.radians(marks[:, 2])
        c, s = np.cos(turn)[:, None], np.sin(turn)[:, None]
        flat = sides[:, None, None] * self._square
        x = c * flat[..., 0] - s * flat[..., 1] + marks[:, :1]
        y = s * flat[..., 0] + c * flat[..., 1] + marks[:, 1:2]
        return np.stack([x, y, np.zeros_like(x)], axis=-1)
