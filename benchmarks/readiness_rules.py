"""The readiness rule and its rivals on whole terms of many teams at once, as plain arrays: ready or not at each look.

Written here once more, sharing no code with ``missions.readiness``; ``tests/missions/readiness/test_rates.py`` holds
``by_filter`` and ``stuck`` against the rule itself, run by run.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy import special

from benchmarks.plain_terms import RUNS_A_SESSION, Runs
from missions.readiness.rules import belief
from missions.readiness.rules.answer import ALMOST_NEVER, LEAST_TO_CALL_STUCK, MAY_RISE, STUCK_OF_LAST
from missions.readiness.rules.evidence import Rule

Looks = NDArray[np.bool_]  # teams x runs
CELLS = 33


@dataclass(frozen=True)
class Moves:
    """How a filter takes the true rate to move between two runs, and how alike runs of a session are."""

    learn: float = belief.LEARN
    rise: float = belief.RISE
    jump: float = belief.JUMP
    alike: float = belief.ALIKE
    prior: float = belief.PRIOR_SHAPE


def sure_over(runs: Runs, target: float, moves: Moves | None = None) -> NDArray[np.float32]:
    """The chance that the true rate is over ``target`` after each run, by a filter on a grid."""
    moves = moves or Moves()
    teams, count = runs.shape
    middle = (np.arange(CELLS, dtype=np.float32) + np.float32(0.5)) / CELLS
    start = np.diff(special.betainc(moves.prior, moves.prior, np.linspace(0, 1, CELLS + 1))).astype(np.float32)
    over = np.clip(np.arange(1, CELLS + 1) - target * CELLS, 0, 1).astype(np.float32)
    between = _between(moves, start)
    weights = np.tile(start, (teams, 1))
    found = np.empty((teams, count), dtype=np.float32)
    strength = 1.0 / moves.alike - 1.0 if moves.alike else np.inf
    for k in range(count):
        before = k % RUNS_A_SESSION
        if before == 0:
            clean = np.zeros((teams, 1), dtype=np.float32)
        if k:
            weights = weights @ between
        one = middle if np.isinf(strength) else (strength * middle + clean) / np.float32(strength + before)
        now = runs[:, k : k + 1]
        weights = weights * np.where(now, one, 1 - one)
        weights /= weights.sum(axis=1, keepdims=True)
        clean = clean + now
        found[:, k] = weights @ over
    return found


def _between(moves: Moves, start: NDArray[np.float32]) -> NDArray[np.float32]:
    """Row by row: where a team of that cell is at the next run, counted on a fine ruler."""
    fine = 200
    ruler = (np.arange(fine) + 0.5) / fine
    rows = []
    for cell in range(CELLS):
        places = np.minimum(cell + 0.5 + CELLS * moves.rise * ruler, CELLS - 0.5)
        up = np.bincount(places.astype(int), minlength=CELLS) / fine
        stay = np.eye(CELLS)[cell]
        rows.append((1 - moves.jump) * ((1 - moves.learn) * stay + moves.learn * up) + moves.jump * start)
    return np.asarray(rows, dtype=np.float32)


def by_filter(runs: Runs, rule: Rule, moves: Moves | None = None) -> Looks:
    """The rule: sure enough, and so many of the last runs clean, from so many runs and dates on."""
    return _late_enough(sure_over(runs, rule.target, moves) >= rule.confidence, rule) & _clean(runs, rule)


def by_discounted_counts(runs: Runs, rule: Rule, forget: float) -> Looks:
    """The rule of before: a Beta whose counts fade a little with each run."""
    teams, count = runs.shape
    a, b = np.ones(teams), np.ones(teams)
    sure = np.empty((teams, count))
    for k in range(count):
        a = forget * a + (1 - forget) + runs[:, k]
        b = forget * b + (1 - forget) + ~runs[:, k]
        sure[:, k] = special.betaincc(a, b, rule.target)
    return _late_enough(sure >= rule.confidence, rule) & _clean(runs, rule)


def by_count_table(runs: Runs, rule: Rule) -> Looks:
    """A table of how many of all runs have to be clean after so many: nothing fades."""
    n = np.arange(1, runs.shape[1] + 1)
    clean = np.cumsum(runs, axis=1)
    return _late_enough(special.betaincc(1 + clean, 1 + n - clean, rule.target) >= rule.confidence, rule)


def stuck(runs: Runs, target: float) -> Looks:
    """Looks at which a team is called stuck."""
    teams, count = runs.shape
    total = np.concatenate([np.zeros((teams, 1), dtype=int), np.cumsum(runs, axis=1)], axis=1)
    found = np.zeros((teams, count), dtype=bool)
    for n in range(LEAST_TO_CALL_STUCK, count + 1):
        last = min(n, STUCK_OF_LAST)
        clean = total[:, n] - total[:, n - last]
        under = special.betaincc(clean + 1, last - clean + 1, target) <= ALMOST_NEVER
        early, late = total[:, n // 2], total[:, n] - total[:, n // 2]
        risen = _later_better(n // 2, n - n // 2)[early, late]
        found[:, n - 1] = under & (risen < MAY_RISE)
    return found


@cache
def _later_better(early: int, late: int) -> NDArray[np.float64]:
    """For every two counts: the chance that the later rate is the higher one, by adding up over a fine ruler."""
    ruler = (np.arange(2000) + 0.5) / 2000
    first = special.betainc(np.arange(early + 1)[:, None] + 1, early - np.arange(early + 1)[:, None] + 1, ruler)
    counts = np.arange(late + 1)[:, None]
    density = ruler**counts * (1 - ruler) ** (late - counts)
    return np.asarray(first @ (density / density.sum(axis=1, keepdims=True)).T)


def _clean(runs: Runs, rule: Rule) -> Looks:
    total = np.concatenate([np.zeros((len(runs), rule.clean_of), dtype=int), np.cumsum(runs, axis=1)], axis=1)
    return np.asarray(total[:, rule.clean_of :] - total[:, : -rule.clean_of] >= rule.clean_runs)


def _late_enough(sure: Looks, rule: Rule) -> Looks:
    n = np.arange(1, sure.shape[1] + 1)
    return sure & (n >= rule.least_runs) & ((n - 1) // RUNS_A_SESSION + 1 >= rule.dates)
