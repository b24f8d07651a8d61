"""A table of 2.4 by 1.2 m, its marks and pictures of it, for the tests of this folder."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from motion.picture.camera.laid import LAID_SD_DEG, LAID_SD_MM, PAPER_SD_MM, SCALE_SD, LaidMark, SeenMark
from tests.oracles.plain_camera import PlainCamera
from tests.oracles.plain_marks import TrueSquare, corner_places, laid_by_hand

WIDTH_MM, DEPTH_MM, SIDE_MM, SIZE_PX = 2400.0, 1200.0, 150.0, (4000, 3000)
PLACES = corner_places(WIDTH_MM, DEPTH_MM, 95.0)
NAMES = ("mark 1 (near left)", "mark 2 (near right)", "mark 3 (far left)", "mark 4 (far right)")
LAID = [LaidMark(i + 1, x, y, SIDE_MM, name=NAMES[i]) for i, (x, y) in enumerate(PLACES)]
SQUARES = [TrueSquare(i + 1, x, y, 0.0, SIDE_MM) for i, (x, y) in enumerate(PLACES)]
#: From the middle of the near side, 1.5 m up, looking down by 35 degrees, with a lens that bends.
CAMERA = PlainCamera(
    x=1150.0, y=-1540.0, z=1500.0, pan=0.02, tilt=math.radians(35.0), roll=0.03,
    focal=2700.0, mid_u=2010.0, mid_v=1490.0, k1=0.06, k2=-0.02,
)  # fmt: skip


def sights(camera: PlainCamera = CAMERA, squares=SQUARES, sd_px: float = 0.3, rng=None) -> list[SeenMark]:
    """What is found of the marks, ``sd_px`` off where there is chance, else exactly where they are."""
    return [
        SeenMark(square.number, square.seen(camera) + (rng.normal(0.0, sd_px, (4, 2)) if rng else 0.0), sd_px)
        for square in squares
    ]


def by_hand(rng: np.random.Generator) -> list[TrueSquare]:
    """Marks that stray as the fit takes them to stray."""
    return laid_by_hand(
        rng, PLACES, SIDE_MM, sd_mm=LAID_SD_MM, sd_deg=LAID_SD_DEG, scale_sd=SCALE_SD, paper_sd_mm=PAPER_SD_MM
    )


def moved(number: int, **changes) -> list[TrueSquare]:
    """The marks with one of them otherwise."""
    return [replace(square, **changes) if square.number == number else square for square in SQUARES]
