"""Invented terms of many teams, run by run: clean or not. A plain simulator that knows nothing of any rule.

A team has a true rate at each run. The runs of one session may be alike: the session then has a rate of its own, drawn
from the Beta with the true rate as its mean and the correlation between two of its runs as asked.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

RUNS, RUNS_A_SESSION = 48, 4

Runs = NDArray[np.bool_]  # teams x runs
Rates = NDArray[np.float64]  # one for each run


def steady(rate: float) -> Rates:
    return np.full(RUNS, rate)


def step(before: float, after: float) -> Rates:
    """One rate for half of the term, then another."""
    return np.repeat([before, after], RUNS // 2)


def ramp(first: float, last: float) -> Rates:
    return np.linspace(first, last, RUNS)


def simulate(rates: Rates, teams: int, seed: int, alike: float = 0.0) -> Runs:
    """``alike`` is the correlation of two runs of one session."""
    rng = np.random.default_rng(seed)
    if alike == 0.0:
        return np.asarray(rng.random((teams, RUNS)) < rates)
    runs = np.empty((teams, RUNS), dtype=bool)
    strength = 1.0 / alike - 1.0
    for start in range(0, RUNS, RUNS_A_SESSION):
        part = slice(start, start + RUNS_A_SESSION)
        mean = rates[part].mean()
        own = rng.beta(strength * mean, strength * (1.0 - mean), teams)
        runs[:, part] = rng.random((teams, RUNS_A_SESSION)) < own[:, None]
    return runs
