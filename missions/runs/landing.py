"""Where runs met the target: what the measured misses have in common. Pure, on plain numbers.

A lateral miss is positive to the left of the target's line, seen along the push; a miss along the push is positive
when the robot came too far.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from scipy import special

from motion.units import format_length

KEEP = 12
LEAST = 3
SURE = 0.95


class Landed(NamedTuple):
    """One run's miss as measured; None where nobody measured."""

    lateral_mm: float | None
    along_mm: float | None
    heading_deg: float | None = None


@dataclass(frozen=True)
class Spread:
    """Mean, standard deviation and the half-width of the mean's 95 % interval (Student's t), of ``n`` values."""

    n: int
    mean: float
    sd: float
    half: float

    @property
    def one_sided(self) -> bool:
        """Whether the mean is off zero beyond doubt: at least three values and zero outside their interval."""
        return self.n >= LEAST and abs(self.mean) > self.half


def keep_landed(kept: Sequence[Sequence[float | None]], new: Landed) -> list[list[float | None]]:
    """The last measured misses, oldest first, for a JSON column."""
    if new.lateral_mm is None and new.along_mm is None:
        return [list(row) for row in kept]
    return [*map(list, kept), list(new)][-KEEP:]


def spread(values: Iterable[float | None]) -> Spread | None:
    """None when fewer than two values were measured."""
    known = [value for value in values if value is not None]
    n = len(known)
    if n < 2:
        return None
    mean = math.fsum(known) / n
    sd = math.sqrt(math.fsum((value - mean) ** 2 for value in known) / (n - 1))
    half = float(special.stdtrit(n - 1, 0.5 + SURE / 2)) * sd / math.sqrt(n)
    return Spread(n, mean, sd, half)


def side_in_words(kept: Sequence[Sequence[float | None]], window: Mapping[str, Any], unit: str) -> str:
    """ "lands 4 cm left and 2 cm short (6 runs measured)", or empty when no side stands out.

    A side stands out when the mean is off zero beyond doubt and by at least half of what the target allows on it.
    """
    allowed = {
        "left": window.get("lateral_mm"),
        "right": window.get("lateral_mm"),
        "too far": window.get("long_mm"),
        "short": window.get("short_mm"),
    }
    sides = []
    for column, over, under in ((0, "left", "right"), (1, "too far", "short")):
        found = spread(row[column] for row in kept)
        if found is None or not found.one_sided:
            continue
        side = over if found.mean > 0 else under
        if abs(found.mean) >= 0.5 * float(allowed[side] or 0):
            sides.append(f"{format_length(abs(found.mean), unit)} {side}")
    return f"lands {' and '.join(sides)} ({len(kept)} runs measured)" if sides else ""
