"""Changes that are none: how often is one claimed where nothing changed, and is one that is there found?

Runs are made up here by plain random numbers, sharing no code with what is measured: off the mark by a fixed miss and
scatter on both axes, read with a ruler, clean when inside a window. Teams differ; within a team nothing changes.
"""

from __future__ import annotations

import numpy as np

from benchmarks.figures import Figure
from missions.runs.rules.changes import Changes, PlanRun, changes_in

CLUBS = 3000
WINDOW_MM = (60.0, 25.0)


def runs(rng: np.random.Generator, sizes: tuple[int, int], session_mm: float, better: float = 1.0) -> list[PlanRun]:
    """Of one plan, in sessions of four that share a set-up; the later half scatters ``better`` times as far."""
    middle = rng.normal(0.0, (20.0, 15.0))
    scatter = rng.uniform(8.0, 45.0, 2)
    count = int(rng.integers(*sizes))
    found: list[PlanRun] = []
    for k in range(count):
        if k % 4 == 0:
            set_up = rng.normal(0.0, session_mm, 2) if session_mm else np.zeros(2)
        factor = better if k >= count // 2 else 1.0
        off = factor * (middle + set_up + rng.normal(0.0, scatter)) + rng.normal(0.0, 3.0, 2)
        clean = bool(np.all(np.abs(off) <= WINDOW_MM))
        measured = rng.random() < 0.85
        found.append(PlanRun(1, clean, float(np.hypot(*off)) if measured else None))
    return found


def claimed(found: Changes | None) -> tuple[bool, bool]:
    """Whether a change of the distance, and one of the clean runs, is said."""
    if found is None:
        return False, False
    ways = [half.way if half else "same" for half in (found.off, found.clean)]
    return ways[0] != "same", ways[1] != "same"


def _claims(seed: int, sizes: tuple[int, int], session_mm: float, better: float = 1.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.array([claimed(changes_in(runs(rng, sizes, session_mm, better))) for _ in range(CLUBS)])


def changes_false() -> Figure:
    """Any change claimed on a page about a team of which nothing changes."""
    claims = _claims(31, (10, 49), 0.0)
    off, clean = claims.mean(axis=0)
    shared = float(_claims(32, (10, 49), 8.0).any(axis=1).mean())
    note = (
        f"{CLUBS} teams with 10 to 48 runs, nothing changed: distance {100 * off:.1f} %, clean runs {100 * clean:.1f} %; "
        f"where runs of a session share a set-up of 8 mm, any {100 * shared:.1f} %"
    )
    return Figure(float(claims.any(axis=1).mean()), "of pages", 0.05, note)


def changes_found() -> Figure:
    """Halving everything that is off, from 20 to 48 runs on."""
    claims = _claims(33, (20, 49), 0.0, 0.5)
    off, clean = claims.mean(axis=0)
    note = f"{CLUBS} teams with 20 to 48 runs whose misses halve: distance {100 * off:.0f} %, clean runs {100 * clean:.0f} %"
    return Figure(float(claims.any(axis=1).mean()), "of pages", 0.7, note, at_least=True)


FIGURES = {"honest.changes_false": changes_false, "honest.changes_found": changes_found}
