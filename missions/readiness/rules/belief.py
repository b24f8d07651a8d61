"""What runs say of a team's true success rate, which may change from run to run: a filter on a grid. Pure.

A belief is the weight of each of ``CELLS`` equal cells of the rate, flat within a cell. Between two runs the rate moves
as it does in a club: with a chance of ``LEARN`` it rises by up to ``RISE``, with a chance of ``JUMP`` it becomes anything.
A run then weighs every cell by how well that rate foretold it (the forward recursion of a hidden Markov model: Rabiner,
Proceedings of the IEEE 77:257-286, 1989, from memory).

Runs of one date share what is particular to it: the battery, the table, who is there. So a day's own rate scatters about
the true one as a Beta of correlation ``ALIKE``, and the runs of a date count for less than as many on different ones.
(Beta-binomial, run by run as Polya's urn; from memory.)

The constants were chosen by simulating whole terms; ``docs/readiness-rule.md`` says how, and what else was tried.
"""

from __future__ import annotations

from functools import cache, lru_cache
from itertools import accumulate
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import special

CELLS = 33
#: Before any run: Beta of these two equal numbers, a little more open to very good and very bad than "anything alike".
PRIOR_SHAPE = 0.8
LEARN, RISE = 0.161, 0.0555
JUMP = 0.0098
ALIKE = 0.058
#: Digits that are kept: more would only lengthen what is stored.
DIGITS = 9

Belief = tuple[float, ...]
EDGES = np.arange(CELLS + 1) / CELLS
RATES = (np.arange(CELLS) + 0.5) / CELLS


class Today(NamedTuple):
    """Clean runs and all runs of the date so far."""

    clean: int = 0
    runs: int = 0


@cache
def no_runs() -> Belief:
    """Before any run."""
    return _kept(np.diff(special.betainc(PRIOR_SHAPE, PRIOR_SHAPE, EDGES)))


def after_run(belief: Belief, success: bool, today: Today, *, is_first: bool = False) -> Belief:
    """One run later; ``today`` are the runs of its date before it."""
    weights = np.asarray(belief) if is_first else np.asarray(belief) @ _moves()
    clean = chances(today)
    return _kept(weights * (clean if success else 1.0 - clean))


def one_run_later(
    beliefs: NDArray[np.float64], foretold: NDArray[np.float64], is_first: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """``after_run`` for many teams at once, a row each; ``foretold`` is how well each rate foretold what came of it."""
    moved = np.where(is_first[:, None], beliefs, beliefs @ _moves()) * foretold
    return np.asarray(moved / moved.sum(axis=1, keepdims=True))


def chances_over_if_clean(belief: Belief, rate: float, today: Today, most: int, *, is_first: bool) -> list[float]:
    """``chance_over`` now, and after each of ``most`` more runs of the date that are all clean."""
    weights, over = np.asarray(belief), _over(rate)
    found = [float(min(1.0, over @ weights))]
    for more in range(most):
        weights = weights if is_first and more == 0 else weights @ _moves()
        weights = weights * chances(Today(today.clean + more, today.runs + more))
        weights /= weights.sum()
        found.append(float(min(1.0, over @ weights)))
    return found


def chances(today: Today) -> NDArray[np.float64]:
    """The chance that the next run of the date is clean, for each true rate."""
    strength = 1.0 / ALIKE - 1.0
    return np.asarray((strength * RATES + today.clean) / (strength + today.runs))


def after_change(belief: Belief, keep: float) -> Belief:
    """The robot is another, or was changed: only ``keep`` of what was known holds on, the rest is as before any run."""
    return _kept(keep * np.asarray(belief) + (1.0 - keep) * np.asarray(no_runs()))


def chance_over(belief: Belief, rate: float) -> float:
    """The chance that the true rate is ``rate`` or more."""
    return float(min(1.0, _over(rate) @ np.asarray(belief)))


def rates_at(belief: Belief, *chances: float) -> tuple[float, ...]:
    """The rates under which the true one lies with each of these chances: what ``chance_over`` is the inverse of."""
    return tuple(np.interp(chances, [0.0, *accumulate(belief)], EDGES).tolist())


@lru_cache(maxsize=1024)
def _over(rate: float) -> NDArray[np.float64]:
    """How much of each cell is over ``rate``."""
    over = np.clip((EDGES[1:] - rate) * CELLS, 0.0, 1.0)
    over.setflags(write=False)
    return over


@cache
def _moves() -> NDArray[np.float64]:
    """From each cell (row) to each, between two runs."""
    moves = np.zeros((CELLS, CELLS))
    for cell, rate in enumerate(RATES):
        top = rate + RISE
        share = np.clip(np.minimum(EDGES[1:], top) - np.maximum(EDGES[:-1], rate), 0.0, None)
        share[-1] += max(0.0, top - 1.0)  # nothing is over 1
        moves[cell] = LEARN * share / RISE
        moves[cell, cell] += 1.0 - LEARN
    moves = (1.0 - JUMP) * moves + JUMP * np.asarray(no_runs())
    moves.setflags(write=False)
    return moves


def _kept(weights: NDArray[np.float64]) -> Belief:
    return tuple(np.round(weights / weights.sum(), DIGITS).tolist())
