"""A camera over a table by plain trigonometry, to make pictures whose truth is known; it shares no code with the fit.

A camera stands at a place, is turned by compass and tilt like a tripod's head, and its distortion is written out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class PlainCamera:
    """``pan`` to the right from looking along y, ``tilt`` below the horizon, ``roll`` clockwise as the camera is held."""

    x: float
    y: float
    z: float
    pan: float
    tilt: float
    roll: float
    focal: float
    mid_u: float
    mid_v: float
    k1: float = 0.0
    k2: float = 0.0

    def see(self, points: np.ndarray) -> np.ndarray:
        """Pixels (..., 2) of points (..., 3)."""
        dx, dy, dz = (points[..., i] - c for i, c in enumerate((self.x, self.y, self.z)))
        sp, cp, st, ct, sr, cr = (f(a) for a in (self.pan, self.tilt, self.roll) for f in (math.sin, math.cos))
        right, ahead = cp * dx - sp * dy, sp * dx + cp * dy
        depth, down = ct * ahead - st * dz, -st * ahead - ct * dz
        a, b = right / depth, down / depth
        a, b = cr * a + sr * b, -sr * a + cr * b
        r2 = a**2 + b**2
        grow = 1 + self.k1 * r2 + self.k2 * r2**2
        return np.stack([self.mid_u + self.focal * grow * a, self.mid_v + self.focal * grow * b], axis=-1)


def held(
    rng: np.random.Generator,
    table: tuple[float, float],
    size: tuple[int, int],
    steep: tuple[float, float],
    focal: tuple[float, float] = (0.62, 0.85),
) -> PlainCamera:
    """A phone held by someone at the table's near side: 1.3 to 1.7 m above it, looking down by ``steep`` (degrees).

    ``focal`` is the range of its focal length as a share of its longer side. It looks at the table's middle within 60 mm,
    stands up to 300 mm to a side, is rolled by up to 4 degrees, has a middle that is off by about half a percent of its
    picture and a distortion that nobody told.
    """
    width, depth = table
    tilt = math.radians(rng.uniform(*steep))
    z = rng.uniform(1300.0, 1700.0)
    aim = np.array([width / 2, depth / 2]) + rng.uniform(-60.0, 60.0, 2)
    away = z / math.tan(tilt)
    sideways = rng.uniform(-300.0, 300.0)
    longer = max(size)
    return PlainCamera(
        x=float(aim[0] + sideways),
        y=float(aim[1] - away),
        z=float(z),
        pan=math.atan2(-sideways, away),
        tilt=math.atan2(z, math.hypot(away, sideways)),
        roll=math.radians(rng.uniform(-4.0, 4.0)),
        focal=longer * rng.uniform(*focal),
        mid_u=(size[0] - 1) / 2 + rng.normal(0.0, 0.005 * longer),
        mid_v=(size[1] - 1) / 2 + rng.normal(0.0, 0.005 * longer),
        k1=rng.uniform(-0.18, 0.12),
        k2=rng.uniform(-0.04, 0.04),
    )
