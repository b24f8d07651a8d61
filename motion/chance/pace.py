"""How long a run really takes against what is predicted of it, and the chance that it keeps a time limit."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy import special

from motion.scene.records import Pace

#: Before any run was timed: predicted times are right within so much, runs differ by so much (logarithms; SDs), as sure
#: as so many timed runs would make it. Common practice, no source.
PRIOR_OFF, PRIOR_SPREAD, PRIOR_RUNS = 0.08, 0.05, 4.0


def pace_of(ratios: Sequence[float]) -> Pace:
    """The pace of a robot whose runs took so many times as long as was predicted.

    >>> pace_of([]).factor
    1.0
    >>> round(pace_of([1.1] * 30).factor, 2)
    1.1
    """
    logs = np.log(np.asarray(ratios, dtype=float)) if len(ratios) else np.zeros(0)
    count = len(logs)
    centre = float(logs.mean()) if count else 0.0
    squares = float(((logs - centre) ** 2).sum())
    spread = math.sqrt((PRIOR_RUNS * PRIOR_SPREAD**2 + squares) / (PRIOR_RUNS + max(count - 1, 0)))
    weight = count * PRIOR_OFF**2 / (count * PRIOR_OFF**2 + spread**2)
    unsure = PRIOR_OFF**2 * (1.0 - weight)
    return Pace(math.exp(weight * centre), math.hypot(spread, math.sqrt(unsure)))


def within_limit(seconds: float, limit_s: float | None, pace: Pace) -> float:
    """The chance that a run predicted to take so long keeps the limit; 1 without one.

    >>> within_limit(20.0, 20.0, Pace(1.0, 0.05)), within_limit(20.0, None, Pace())
    (0.5, 1.0)
    """
    if limit_s is None:
        return 1.0
    return float(special.ndtr(math.log(limit_s / (seconds * pace.factor)) / pace.spread))
