"""What is known of marks before the picture, and what the picture shows of them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from motion.chance.least_squares import Array
from motion.course.sentences import _

#: How far a careful hand lays a sheet's cut corner from the table's, and how askew. Common practice, no source.
LAID_SD_MM, LAID_SD_DEG = 2.0, 1.0
#: By how much a printer's scale may be off where its ruler line was held against a ruler. Common practice, no source.
SCALE_SD = 0.002
#: How far a corner may be from where flat paper has it, seen from above: print, paper, a lifted edge. Common practice.
PAPER_SD_MM = 0.3


@dataclass(frozen=True)
class LaidMark:
    """A square mark with side ``side_mm``, its middle said to be at (x, y) and its upper edge away from the table's near.

    ``turn_deg`` turns it to the left from there. What is said is rough: by ``sd_mm`` along each axis and ``sd_deg``.
    ``name`` is for words, such as "mark 3 (far left)".
    """

    number: int
    x_mm: float
    y_mm: float
    side_mm: float
    turn_deg: float = 0.0
    sd_mm: float = LAID_SD_MM
    sd_deg: float = LAID_SD_DEG
    name: str = ""

    @property
    def words(self) -> str:
        return self.name or _("mark {number}", number=self.number)


@dataclass(frozen=True)
class SeenMark:
    """A mark's corners in the picture, (4, 2) pixels: as printed upper left, upper right, lower right, lower left.

    ``sd_px`` is the standard uncertainty of each coordinate of a corner.
    """

    number: int
    corners_px: Array
    sd_px: float

    @property
    def side_px(self) -> float:
        """The mean of its sides."""
        return float(np.hypot(*(self.corners_px - np.roll(self.corners_px, 1, axis=0)).T).mean())


def square_corners(side_mm: float, x_mm: float = 0.0, y_mm: float = 0.0, turn_deg: float = 0.0) -> Array:
    """Corners (4, 2) of a square in the order of :class:`SeenMark`, turned to the left about its middle (x, y).

    Examples
    --------
    >>> square_corners(10.0, 100.0, 50.0).tolist()
    [[95.0, 55.0], [105.0, 55.0], [105.0, 45.0], [95.0, 45.0]]
    """
    half = side_mm / 2.0
    flat = np.array([[-half, half], [half, half], [half, -half], [-half, -half]])
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return flat @ np.array([[c, s], [-s, c]]) + (x_mm, y_mm)


def weight_px(seen: SeenMark, side_mm: float) -> float:
    """Standard uncertainty of a corner in pixels, with that of the paper on the table.

    Examples
    --------
    >>> seen = SeenMark(3, square_corners(100.0), 0.3)
    >>> round(weight_px(seen, 100.0), 3)
    0.424
    """
    return math.hypot(seen.sd_px, PAPER_SD_MM * seen.side_px / side_mm)


def paper_share(seen: SeenMark, side_mm: float) -> Array:
    """How a corner's residuals (u, v) over :func:`weight_px` follow its paper, (2, 2): off by one standard uncertainty to
    the mark's own right, and up. The same paper is off alike in each picture of it; the rest is new in each.

    Examples
    --------
    >>> paper_share(SeenMark(3, square_corners(100.0) * (1.0, -1.0), 0.3), 100.0).round(3).tolist()
    [[0.707, 0.0], [0.0, -0.707]]
    """
    upper_left, upper_right, lower_right, lower_left = seen.corners_px
    along = upper_right + lower_right - upper_left - lower_left
    u, v = along / math.hypot(*along)
    size = PAPER_SD_MM * seen.side_px / side_mm / weight_px(seen, side_mm)
    return size * np.array([[u, v], [v, -u]])
