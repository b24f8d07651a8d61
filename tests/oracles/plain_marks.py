"""A table's four marks as hands really lay them, and what a camera of known truth sees of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.oracles.plain_camera import PlainCamera

#: Units of a mark's half side: upper left, upper right, lower right, lower left.
ROUND = np.array([[-1.0, 1.0], [1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]])


@dataclass(frozen=True)
class TrueSquare:
    """A flat square: middle, turn to the left (radians), side, height; its corners each off by ``lifted`` (4, 3)."""

    number: int
    x: float
    y: float
    turn: float
    side: float
    height: float = 0.0
    lifted: np.ndarray | None = None

    def on_table(self, flat: np.ndarray) -> np.ndarray:
        """Points (..., 2) of its own, in half sides, as points (..., 3) on the table."""
        c, s = np.cos(self.turn), np.sin(self.turn)
        u, v = flat[..., 0] * self.side / 2, flat[..., 1] * self.side / 2
        points = np.stack([self.x + c * u - s * v, self.y + s * u + c * v, np.full_like(u, self.height)], axis=-1)
        if self.lifted is None:
            return points
        a, b = (flat[..., 0, None] + 1) / 2, (flat[..., 1, None] + 1) / 2
        top = (1 - a) * self.lifted[0] + a * self.lifted[1]
        low = (1 - a) * self.lifted[3] + a * self.lifted[2]
        return points + (1 - b) * low + b * top

    def seen(self, camera: PlainCamera) -> np.ndarray:
        return camera.see(self.on_table(ROUND))


def corner_places(width: float, depth: float, inset: float) -> list[tuple[float, float]]:
    """Near left, near right, far left, far right."""
    return [(inset, inset), (width - inset, inset), (inset, depth - inset), (width - inset, depth - inset)]


def laid_by_hand(
    rng: np.random.Generator,
    places: list[tuple[float, float]],
    side: float,
    *,
    sd_mm: float,
    sd_deg: float,
    scale_sd: float,
    paper_sd_mm: float,
) -> list[TrueSquare]:
    """Marks 1, 2, ... about their places: laid roughly, printed by one printer, on paper that is not quite flat."""
    printed = side * (1.0 + rng.normal(0.0, scale_sd))
    squares = []
    for number, (x, y) in enumerate(places, start=1):
        dx, dy = rng.normal(0.0, sd_mm, 2)
        lifted = np.column_stack([rng.normal(0.0, paper_sd_mm, (4, 2)), np.zeros(4)])
        squares.append(TrueSquare(number, x + dx, y + dy, np.radians(rng.normal(0.0, sd_deg)), printed, lifted=lifted))
    return squares
