"""Has anything changed? The earlier against the later half of the runs of one plan, tested before it is said. Pure.

Only runs of one robot in one state, of one plan of one tier, are compared, so that a change is the robot's and not that of
another task. A page says at most two things of a team, how far from the mark and how many were clean, each tested at half
of ``FALSE_AT_MOST``; so what did not change is called a change on at most one page in twenty.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from statistics import median
from typing import NamedTuple, TypeVar

import numpy as np

FALSE_AT_MOST = 0.05
LEVEL = FALSE_AT_MOST / 2
#: Fewer runs in a half show nothing at this level, however far apart they are.
LEAST = 5
#: So many ways to deal the runs out are tried one by one, more are drawn.
EXACT = 1000
DRAWS = 1999
SEED = 20

One = TypeVar("One")


class PlanRun(NamedTuple):
    """One run; the oldest comes first in any list. ``off_mm`` is how far from the mark it ended, None if not measured."""

    plan: int
    clean: bool
    off_mm: float | None


@dataclass(frozen=True)
class Halves:
    """Two halves of the runs of one plan. ``way`` is ``"less"``, ``"more"`` or ``"same"``."""

    way: str
    before: float
    after: float
    together: float
    runs_before: int
    runs_after: int


@dataclass(frozen=True)
class Changes:
    """Of one plan: the middle distance from the mark in mm, and the clean runs; None where there are too few runs."""

    plan: int
    off: Halves | None
    clean: Halves | None


def changes_in(runs: Sequence[PlanRun]) -> Changes | None:
    """Of the plan with the most runs, the newer of two; None without any run."""
    counts = Counter(run.plan for run in runs)
    if not counts:
        return None
    plan = max(counts, key=lambda one: (counts[one], one))
    own = [run for run in runs if run.plan == plan]
    return Changes(
        plan,
        off_changed([run.off_mm for run in own if run.off_mm is not None]),
        clean_changed([run.clean for run in own]),
    )


def off_changed(off_mm: Sequence[float]) -> Halves | None:
    """Of distances from the mark, the oldest first."""
    before, after = _halves(off_mm)
    if len(before) < LEAST:
        return None
    changed = permuted_p(before, after) <= LEVEL
    more = sum(after) / len(after) > sum(before) / len(before)
    middles = median(before), median(after), median(off_mm)
    return Halves(_way(changed, more), *middles, len(before), len(after))


def clean_changed(clean: Sequence[bool]) -> Halves | None:
    """Of runs, the oldest first; before, after and together are counts of clean ones."""
    before, after = _halves(clean)
    if len(before) < LEAST:
        return None
    good, later = sum(before), sum(after)
    changed = fisher_p(good, len(before), later, len(after)) <= LEVEL
    more = later / len(after) > good / len(before)
    return Halves(_way(changed, more), good, later, good + later, len(before), len(after))


def _halves(values: Sequence[One]) -> tuple[Sequence[One], Sequence[One]]:
    middle = len(values) // 2
    return values[:middle], values[middle:]


def _way(changed: bool, more: bool) -> str:
    return ("more" if more else "less") if changed else "same"


def permuted_p(before: Sequence[float], after: Sequence[float]) -> float:
    """Two-sided p of the difference of means, by dealing the values out anew: Fisher's permutation test.

    Where too many ways exist they are drawn, with the one seen among them, which keeps the test valid (Phipson and Smyth,
    Statistical Applications in Genetics and Molecular Biology 9 (2010) 39, from memory).

    >>> permuted_p([1.0, 2.0, 3.0], [4.0, 5.0, 6.0])
    0.1
    """
    return _permuted_p((*before, *after), len(before))


@lru_cache(maxsize=4096)
def _permuted_p(dealt_from: tuple[float, ...], k: int) -> float:
    """Remembered: most teams have no new run since the page was asked for last."""
    values = np.array(dealt_from, dtype=float)
    n, total = len(values), math.fsum(dealt_from)

    def apart(sums: np.ndarray) -> np.ndarray:
        return np.abs((total - sums) / (n - k) - sums / k)

    seen = float(apart(np.array([math.fsum(dealt_from[:k])]))[0]) * (1.0 - 1e-9)
    if math.comb(n, k) <= EXACT:
        sums = np.array([values[list(chosen)].sum() for chosen in combinations(range(n), k)])
        return float(np.mean(apart(sums) >= seen))
    rng = np.random.default_rng(SEED)
    dealt = np.argsort(rng.random((DRAWS, n)), axis=1)[:, :k]
    return float((1 + np.sum(apart(values[dealt].sum(axis=1)) >= seen)) / (1 + DRAWS))


def fisher_p(good: int, of: int, later_good: int, later_of: int) -> float:
    """Two-sided p of Fisher's exact test: of all tables with these margins those that are no likelier than the one seen.

    >>> round(fisher_p(1, 10, 7, 10), 4)
    0.0198
    """
    every = good + later_good
    ways = [math.comb(of, k) * math.comb(later_of, every - k) for k in range(min(of, every) + 1)]
    return sum(way for way in ways if way <= ways[good]) / sum(ways)
