"""Where runs met the target: what the measured misses have in common. Pure, on plain numbers.

A lateral miss is positive to the left of the target's line, seen along the push; a miss along the push is positive
when the robot came too far.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from scipy import special

LEAST = 3
SURE = 0.95


@dataclass(frozen=True)
class MissSpread:
    """Mean, standard deviation and the half-width of the mean's 95 % interval (Student's t), of ``n`` values."""

    n: int
    mean: float
    sd: float
    half: float

    @property
    def one_sided(self) -> bool:
        """Whether the mean is off zero beyond doubt: at least three values and zero outside their interval."""
        return self.n >= LEAST and abs(self.mean) > self.half


def spread(values: Iterable[float | None]) -> MissSpread | None:
    """None when fewer than two values were measured."""
    known = [value for value in values if value is not None]
    n = len(known)
    if n < 2:
        return None
    mean = math.fsum(known) / n
    sd = math.sqrt(math.fsum((value - mean) ** 2 for value in known) / (n - 1))
    half = float(special.stdtrit(n - 1, 0.5 + SURE / 2)) * sd / math.sqrt(n)
    return MissSpread(n, mean, sd, half)
