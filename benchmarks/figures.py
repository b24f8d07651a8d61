"""What a benchmark hands back: a figure, its unit, and the bar that it must hold.

A module of this folder lists its figures as ``FIGURES = {"area.name": callable}``; the callable measures and returns a
``Figure``. Whatever it needs it makes, seeded, and takes away again.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """``bar`` None: measured all the same, and nothing to fall short of. ``at_least``: more is better."""

    value: float
    unit: str
    bar: float | None = None
    note: str = ""
    at_least: bool = False

    @property
    def holds(self) -> bool:
        if self.bar is None:
            return True
        return self.value >= self.bar if self.at_least else self.value <= self.bar


def best_of(times: int, work: Callable[[], object]) -> float:
    """The shortest of several runs, in seconds: what the machine can do when nobody disturbs it."""
    return min(_once(work) for _ in range(times))


def percentile(values: list[float], fraction: float) -> float:
    """The smallest value that ``fraction`` of them do not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(fraction * len(ordered)))]


def _once(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun
