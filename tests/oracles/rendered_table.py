"""Pictures of a table with marks and things, as a camera of known truth takes them; no code is shared with the fit.

Light is painted as it falls (marks in sixteen parts a pixel), made uneven, blurred, given noise, coded with the usual
curve and stored as JPEG.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image
from scipy import interpolate, ndimage

from tests.oracles.plain_camera import PlainCamera
from tests.oracles.plain_marks import TrueSquare

#: Light of paper, print, the table, the floor and a thing, of one that is all white.
PAPER, INK, TABLE, FLOOR, THING = 0.75, 0.04, 0.35, 0.12, 0.2
#: Half sides of a mark that its white paper reaches.
WHITE = 1.3
PARTS = 4


@dataclass(frozen=True)
class Weather:
    """What stands between a table and its picture. ``glare`` is the middle (pixels) and radius of a white spot."""

    blur_px: float = 0.8
    noise: float = 0.008
    uneven: float = 0.4
    quality: int = 88
    glare: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class RenderedTable:
    """What is on the table: marks by the number in their squares, things as outlines on the table, (n, 2) each."""

    table: tuple[float, float]
    squares: Sequence[TrueSquare]
    things: Sequence[np.ndarray] = ()

    def light(self, camera: PlainCamera, size: tuple[int, int]) -> np.ndarray:
        """Light of each pixel, (height, width), before any weather."""
        picture = self._ground(camera, size)
        for outline in self.things:
            corners = np.column_stack([outline, np.zeros(len(outline))])
            _paint_outline(picture, camera.see(corners))
        for square in self.squares:
            _paint_mark(picture, camera, square)
        return picture

    def _ground(self, camera: PlainCamera, size: tuple[int, int]) -> np.ndarray:
        picture = np.full((size[1], size[0]), FLOOR, dtype=np.float32)
        width, depth = self.table
        rim = np.array(
            [(x, 0.0) for x in np.linspace(0, width, 30)]
            + [(width, y) for y in np.linspace(0, depth, 30)]
            + [(x, depth) for x in np.linspace(width, 0, 30)]
            + [(0.0, y) for y in np.linspace(depth, 0, 30)]
        )
        _paint_outline(picture, camera.see(np.column_stack([rim, np.zeros(len(rim))])), TABLE)
        return picture


def photographed(light: np.ndarray, weather: Weather, rng: np.random.Generator) -> np.ndarray:
    """The picture's greys, (height, width), as a camera codes them."""
    rows, columns = light.shape
    v, u = np.linspace(-1, 1, rows, dtype=np.float32)[:, None], np.linspace(-1, 1, columns, dtype=np.float32)[None, :]
    way = rng.uniform(0, 2 * np.pi)
    shade = 1 - weather.uneven * (0.5 + 0.35 * (np.cos(way) * u + np.sin(way) * v))
    lit = light * shade.astype(np.float32)
    if weather.glare:
        x, y, radius = weather.glare
        spot = np.hypot(np.arange(columns)[None, :] - x, np.arange(rows)[:, None] - y) < radius
        lit[spot] = 1.5
    lit = ndimage.gaussian_filter(lit, weather.blur_px, truncate=3.0)
    grain = rng.standard_normal(lit.shape, dtype=np.float32)
    lit += weather.noise * np.sqrt(np.maximum(lit, 0.02)) * grain
    lit = np.clip(lit, 0.0, 1.0)
    coded = np.where(lit <= 0.0031308, 12.92 * lit, 1.055 * lit ** (1 / 2.4) - 0.055)
    return np.round(255.0 * coded).astype(np.uint8)


def jpeg(greys: np.ndarray, quality: int = 88, **more) -> bytes:
    """As a camera stores it, in colours."""
    red, blue = np.minimum(greys.astype(np.uint16) * 103 // 100, 255), greys.astype(np.uint16) * 92 // 100
    out = io.BytesIO()
    Image.fromarray(np.stack([red.astype(np.uint8), greys, blue.astype(np.uint8)], axis=-1)).save(
        out, "JPEG", quality=quality, **more
    )
    return out.getvalue()


def cells_of(number: int) -> np.ndarray:
    """The eight by eight cells of a mark, True where white, the first row its upper one."""
    marks = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    return cv2.aruco.generateImageMarker(marks, number, 8) > 127


def _box(pixels: np.ndarray, shape: tuple[int, int]) -> tuple[int, int, int, int]:
    left, top = np.floor(pixels.min(axis=0)).astype(int) - 1
    right, low = np.ceil(pixels.max(axis=0)).astype(int) + 2
    return max(left, 0), max(top, 0), min(right, shape[1]), min(low, shape[0])


def _parts(box: tuple[int, int, int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Middles of the sixteen parts of each pixel of a box, along u and along v."""
    left, top, right, low = box
    at = (np.arange(PARTS) + 0.5) / PARTS - 0.5
    u = (np.arange(left, right)[:, None] + at).ravel()
    v = (np.arange(top, low)[:, None] + at).ravel()
    return u, v


def _mix(picture: np.ndarray, box: tuple[int, int, int, int], value: np.ndarray, covers: np.ndarray) -> None:
    left, top, right, low = box
    under = np.repeat(np.repeat(picture[top:low, left:right], PARTS, axis=0), PARTS, axis=1)
    whole = np.where(covers, value, under)
    picture[top:low, left:right] = whole.reshape(low - top, PARTS, right - left, PARTS).mean(axis=(1, 3))


def _paint_outline(picture: np.ndarray, pixels: np.ndarray, value: float = THING) -> None:
    # The table's rim and things are looked at, not measured by their edges: whole pixels with a soft edge will do.
    mask = np.zeros(picture.shape, dtype=np.uint8)
    cv2.fillPoly(mask, [np.round(16 * pixels).astype(np.int32)], 255, lineType=cv2.LINE_AA, shift=4)
    share = mask.astype(np.float32) / 255
    picture += share * (value - picture)


def _paint_mark(picture: np.ndarray, camera: PlainCamera, square: TrueSquare) -> None:
    """By a fine grid of the mark's own plane, seen by the camera, and interpolated back to pixels."""
    reach = WHITE + 0.1
    steps = np.linspace(-reach, reach, 9)
    own_u, own_v = np.meshgrid(steps, steps)
    seen = camera.see(square.on_table(np.stack([own_u, own_v], axis=-1)))
    box = _box(seen.reshape(-1, 2), picture.shape)
    if box[0] >= box[2] or box[1] >= box[3]:
        return
    # Smooth over a mark: worked out every third pixel, and splines between.
    columns, rows = (np.linspace(low - 1.0, high, max(6, (high - low) // 3 + 2)) for low, high in (box[::2], box[1::2]))
    coarse = _own_coordinates(camera, square, *np.meshgrid(columns, rows))
    at_u, at_v = _parts(box)
    a, b = (interpolate.RectBivariateSpline(rows, columns, each)(at_v, at_u) for each in coarse)
    cells = np.zeros((10, 10), dtype=bool)
    cells[1:9, 1:9] = cells_of(square.number)
    cells[0], cells[9], cells[:, 0], cells[:, 9] = True, True, True, True
    column = np.clip(np.floor((a + 1) * 4).astype(int) + 1, 0, 9)
    row = np.clip(np.floor((1 - b) * 4).astype(int) + 1, 0, 9)
    value = np.where(cells[row, column], PAPER, INK)
    covers = (np.abs(a) <= WHITE) & (np.abs(b) <= WHITE)
    _mix(picture, box, value.astype(np.float32), covers)


def _own_coordinates(
    camera: PlainCamera, square: TrueSquare, u: np.ndarray, v: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Where pixels are on the mark, in half sides: Newton's steps on how the camera sees it."""
    a, b = np.zeros_like(u), np.zeros_like(v)
    step = 1e-4
    for _ in range(6):
        here, right, up = (
            camera.see(square.on_table(np.stack([a + da, b + db], axis=-1)))
            for da, db in ((0.0, 0.0), (step, 0.0), (0.0, step))
        )
        by_a, by_b = (right - here) / step, (up - here) / step
        off = np.stack([u, v], axis=-1) - here
        below = by_a[..., 0] * by_b[..., 1] - by_a[..., 1] * by_b[..., 0]
        move_a = (off[..., 0] * by_b[..., 1] - off[..., 1] * by_b[..., 0]) / below
        move_b = (by_a[..., 0] * off[..., 1] - by_a[..., 1] * off[..., 0]) / below
        a, b = a + np.clip(move_a, -1, 1), b + np.clip(move_b, -1, 1)
        if max(np.abs(move_a).max(), np.abs(move_b).max()) < 1e-5:
            break
    return a, b
