"""Corners of a dark square on white, to a fraction of a pixel: each edge is found along many lines across it.

Where an edge crosses such a line follows from how much light the line holds in all, between the dark inside and the
white outside: blur and noise, alike on both sides, leave that where it is. Light is counted as it fell, not as the
picture codes it (the curve of IEC 61966-2-1, from memory), since a blurred edge is even in light alone. A line through
the crossings of each side, and where neighbouring lines meet, are the corners. Common practice in photogrammetry; made
here and measured by ``picture.places_median``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from classroom.club.marks.decode import Greys

#: Lines across a side, and the middle part of it that they cross: blur rounds the corners.
LINES = 32
MIDDLE = (0.14, 0.86)
#: How far inwards and outwards an edge is looked for, in cells. A corner as first found lies too far inwards: a
#: threshold between dark and white takes some of the dark away.
REACHES = ((0.5, 1.1), (0.7, 0.7), (0.7, 0.7))
#: Samples along a line for each pixel.
FINE = 2.0
#: What no scatter shows: a lens's bend within a side, the picture's compression, the camera's own sharpening; pixels.
HIDDEN_SD_PX = 0.08
#: The light that a coded grey stands for.
LIGHT = np.where(
    np.arange(256) <= 10.31475, np.arange(256) / 255.0 / 12.92, ((np.arange(256) / 255.0 + 0.055) / 1.055) ** 2.4
)


def fine_corners(greys: Greys, corners: NDArray[np.float64], modules: int) -> tuple[NDArray[np.float64], float] | None:
    """Corners (4, 2) made fine, clockwise as seen, and their standard uncertainty in pixels.

    ``modules`` is how many of its own cells a side of the mark has; the outermost are dark, and white is around it.
    None when a side shows no edge.
    """
    fine = np.asarray(corners, dtype=float)
    for inwards, outwards in REACHES:
        reach = (inwards / modules, outwards / modules)
        sides = [_side(greys, fine[i], fine[(i + 1) % 4], fine.mean(axis=0), reach) for i in range(4)]
        found = [side for side in sides if side is not None]
        if len(found) < 4:
            return None
        fine = np.array([_meet(found[i - 1], found[i]) for i in range(4)])
        if not np.isfinite(fine).all():
            return None
    return fine, float(np.hypot(max(side.sd for side in found), HIDDEN_SD_PX))


class _Side:
    """A fitted edge: through ``point`` along ``way``, its ends known to ``sd`` pixels."""

    def __init__(self, point: NDArray[np.float64], way: NDArray[np.float64], sd: float) -> None:
        self.point, self.way, self.sd = point, way, sd


def _side(
    greys: Greys,
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    inside: NDArray[np.float64],
    reach: tuple[float, float],
) -> _Side | None:
    along = end - start
    length = float(np.hypot(*along))
    if length < 8.0:
        return None
    along = along / length
    across = np.array([along[1], -along[0]])
    if across @ (inside - start) > 0.0:
        across = -across
    # Cells are foreshortened across the side as the whole mark is.
    across_px = 2.0 * abs(float(across @ (inside - (start + end) / 2.0)))
    inwards, outwards = (max(1.5, share * across_px) for share in reach)
    offsets = np.linspace(-inwards, outwards, 2 * int(np.ceil(FINE * (inwards + outwards) / 2.0)) + 1)
    parts = np.linspace(*MIDDLE, LINES)
    points = start + (parts * length)[:, None, None] * along + offsets[None, :, None] * across
    if points.min() < 0.0 or (points > (greys.shape[1] - 1, greys.shape[0] - 1)).any():
        return None
    # Loaded only by a process that is asked for a picture.
    from scipy import ndimage

    # Only the patch about the side is turned into light.
    left, top = np.floor(points.min(axis=(0, 1))).astype(int)
    right, low = np.ceil(points.max(axis=(0, 1))).astype(int) + 1
    patch = LIGHT[greys[top:low, left:right]]
    light = ndimage.map_coordinates(patch, np.moveaxis(points - (left, top), -1, 0)[::-1], order=1, mode="nearest")
    quarter = max(2, len(offsets) // 5)
    dark, white = _level(parts, light[:, :quarter]), _level(parts, light[:, -quarter:])
    contrast = white - dark
    if float(contrast.min()) < 0.02:
        return None
    share = (light - dark[:, None]) / contrast[:, None]
    crossing = outwards - np.trapezoid(share, offsets, axis=1)
    return _line(parts * length, crossing, start, along, across, length)


def _level(parts: NDArray[np.float64], light: NDArray[np.float64]) -> NDArray[np.float64]:
    """The level along a side, straight: light on a table is uneven."""
    values = np.median(light, axis=1)
    slope, level = np.polyfit(parts, values, 1)
    return slope * parts + level


def _line(
    t: NDArray[np.float64],
    crossing: NDArray[np.float64],
    start: NDArray[np.float64],
    along: NDArray[np.float64],
    across: NDArray[np.float64],
    length: float,
) -> _Side | None:
    kept = np.ones(len(t), dtype=bool)
    for _ in range(4):
        slope, level = np.polyfit(t[kept], crossing[kept], 1)
        off = crossing - (slope * t + level)
        spread = 1.4826 * float(np.median(np.abs(off[kept]))) + 0.01
        now = np.abs(off) < 3.5 * spread
        if now.sum() < LINES // 2:
            return None
        if (now == kept).all():
            break
        kept = now
    own = off[kept]
    s = float(np.sqrt(own @ own / (len(own) - 2)))
    # Neighbouring lines share pixels: of the crossings about as many count as there are pixels along the side.
    count = min(len(own), max(4.0, 0.5 * (MIDDLE[1] - MIDDLE[0]) * length))
    middle = t[kept].mean()
    lever = max(middle, length - middle) ** 2 / float(np.mean((t[kept] - middle) ** 2))
    point = start + middle * along + (slope * middle + level) * across
    way = along + slope * across
    return _Side(point, way / np.hypot(*way), s * float(np.sqrt((1.0 + lever) / count)))


def _meet(first: _Side, second: _Side) -> NDArray[np.float64]:
    way = np.column_stack([first.way, -second.way])
    if abs(np.linalg.det(way)) < 0.05:
        return np.full(2, np.nan)
    return first.point + first.way * float(np.linalg.solve(way, second.point - first.point)[0])
