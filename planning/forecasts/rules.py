"""What was said of a plan beside what came of it: do the two agree, and how do they over all plans of a club?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _
from scipy import special

from classroom.site.figures import figure_said

#: Fewer runs than this say nothing about a forecast.
FEWEST_RUNS = 5
#: A result this unlikely under what was said (both ends together) is no luck.
UNLIKELY = 0.05


@dataclass(frozen=True)
class Forecast:
    """``said`` with its 95 % range from ``low`` to ``high``; ``came`` of ``runs`` runs worked since."""

    said: float
    low: float
    high: float
    came: int
    runs: int

    @property
    def verdict(self) -> str:
        """ "early", "agrees", "fewer" or "more": whether so few or so many would be luck, were the forecast true."""
        if self.runs < FEWEST_RUNS:
            return "early"
        at_most, at_least = tails(self.said, self.low, self.high, self.came, self.runs)
        if at_most < UNLIKELY / 2:
            return "fewer"
        return "more" if at_least < UNLIKELY / 2 else "agrees"

    @property
    def words(self) -> str:
        """ "Said 46 to 71 in 100, came 9 of 12." """
        said = {"low": figure_said(100 * self.low), "high": figure_said(100 * self.high)}
        came = said | {"came": self.came, "runs": self.runs}
        if said["low"] == said["high"]:
            return _("Said %(low)s in 100, came %(came)s of %(runs)s.") % came
        return _("Said %(low)s to %(high)s in 100, came %(came)s of %(runs)s.") % came


def tails(said: float, low: float, high: float, came: int, runs: int) -> tuple[float, float]:
    """The chances of at most, and of at least, so many runs that work, when the true chance is only known to a range.

    The chance is taken as a beta distribution with the mean and the width of what was said (a beta-binomial count).

    >>> [round(tail, 3) for tail in tails(0.5, 0.5, 0.5, 0, 5)]
    [0.031, 1.0]
    """
    mean = min(max(said, 0.002), 0.998)
    sd = max((high - low) / 3.92, 1e-3)
    strength = max(mean * (1 - mean) / sd**2 - 1, 0.2)
    a, b = mean * strength, (1 - mean) * strength
    counts = np.arange(runs + 1)
    log = special.betaln(counts + a, runs - counts + b) - special.betaln(a, b)
    log -= math.log(runs + 1) + special.betaln(runs - counts + 1, counts + 1)
    chances = np.exp(log)
    return min(1.0, float(chances[: came + 1].sum())), min(1.0, float(chances[came:].sum()))


@dataclass(frozen=True)
class Tenth:
    """All plans of which a chance between two tenths was said: how many were said to come of ``runs``, and how many came."""

    lower: float
    plans: int
    said: float
    came: int
    runs: int

    @property
    def share(self) -> float:
        return self.came / self.runs


def by_tenths(forecasts: Sequence[Forecast]) -> list[Tenth]:
    """The forecasts that were run at all, by tenths of what was said; tenths without a run are left out."""
    found = []
    for k in range(10):
        mine = [f for f in forecasts if f.runs and min(int(f.said * 10), 9) == k]
        if mine:
            runs = sum(f.runs for f in mine)
            said = sum(f.said * f.runs for f in mine) / runs
            found.append(Tenth(k / 10, len(mine), said, sum(f.came for f in mine), runs))
    return found
