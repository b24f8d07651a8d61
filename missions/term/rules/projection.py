"""Where a team would stand at a term's end at its present pace, as a range over pretend terms. Pure.

Every pretend term goes on from what the evidence says now, run by run: the true rate is drawn from the belief and moves
as ``missions.readiness.rules.belief`` has it, runs come as often as they did, the very same filter reads them, and a
tier is passed as soon as the rule says ready. On the next tier nothing is known, so its rate is drawn as before any run.
Nothing is taken to change on the robot. A limit that nobody has run against cannot be told, so a timed tier that is
not reached yet is as far as a pretend term goes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from missions.readiness.rules.belief import (
    ALIKE,
    CELLS,
    EDGES,
    JUMP,
    LEARN,
    RATES,
    RISE,
    no_runs,
    one_run_later,
)
from missions.readiness.rules.evidence import Evidence, Rule

FUTURES = 200
#: The range holds so much of the pretend terms: eight in ten, one in ten left at each end.
LOWEST, HIGHEST = 0.1, 0.9


@dataclass(frozen=True)
class Rung:
    """A tier from the team's own on upwards. ``in_time``: whether its limit is kept now; None where that is unknown."""

    rule: Rule
    in_time: bool | None = None

    @property
    def passable(self) -> bool:
        return self.rule.time_limit_s is None or bool(self.in_time)


def too_early(evidence: Evidence, rule: Rule, sessions_run: int) -> bool:
    """Whether there is too little to go on from: few runs, one date, or no pace yet."""
    return evidence.runs < max(1, rule.least_runs) or len(evidence.dates) < 2 or sessions_run < 2


def where_it_ends(
    rungs: Sequence[Rung],
    evidence: Evidence,
    pace: float,
    sessions: int,
    rng: np.random.Generator,
    *,
    ready: bool,
) -> tuple[int, int]:
    """How many tiers up it ends: the low and the high end of the range, 0 being the present tier.

    Parameters
    ----------
    rungs
        From the present tier on.
    pace
        Runs in a session.
    ready
        Whether the rule calls it ready now: then the next tier is opened before the next run.
    """
    club = _Club(rungs, evidence, rng)
    if ready:
        club.move_on(np.ones(FUTURES, dtype=bool))
    done = 0
    for session in range(1, sessions + 1):
        club.new_day()
        for _ in range(int(pace * session) - done):
            club.one_run()
        done = int(pace * session)
    low, high = np.quantile(club.rung, (LOWEST, HIGHEST), method="inverted_cdf")
    return int(low), int(high)


class _Club:
    """All pretend terms at once, one row each."""

    def __init__(self, rungs: Sequence[Rung], evidence: Evidence, rng: np.random.Generator) -> None:
        self.rng = rng
        self.top = len(rungs) - 1
        rules = [rung.rule for rung in rungs]
        self.over = np.array([np.clip((EDGES[1:] - rule.target) * CELLS, 0.0, 1.0) for rule in rules])
        self.sure = np.array([rule.confidence for rule in rules])
        self.clean_runs = np.array([rule.clean_runs for rule in rules])
        self.least = np.array([rule.least_runs for rule in rules])
        self.dates_asked = np.array([rule.dates for rule in rules])
        self.clean_of = np.array([rule.clean_of for rule in rules])
        self.passable = np.array([rung.passable for rung in rungs])
        self.rung = np.zeros(FUTURES, dtype=int)
        self.belief = np.tile(np.asarray(evidence.belief), (FUTURES, 1))
        self.rate = self._drawn(np.asarray(evidence.belief), FUTURES)
        width = max(rule.clean_of for rule in rules)
        strip = [run.success for run in evidence.strip][-width:]
        self.strip = np.tile(np.array([0] * (width - len(strip)) + strip, dtype=int), (FUTURES, 1))
        self.runs = np.full(FUTURES, evidence.runs)
        self.dates = np.full(FUTURES, len(evidence.dates))
        self.clean_today = np.zeros(FUTURES)
        self.runs_today = np.zeros(FUTURES)

    def _drawn(self, belief: NDArray[np.float64], count: int) -> NDArray[np.float64]:
        cells = self.rng.choice(CELLS, size=count, p=belief / belief.sum())
        return (cells + self.rng.random(count)) / CELLS

    def new_day(self) -> None:
        self.clean_today[:] = self.runs_today[:] = 0.0

    def one_run(self) -> None:
        self._move_rates()
        strength = 1.0 / ALIKE - 1.0
        clean = self.rng.random(FUTURES) < (strength * self.rate + self.clean_today) / (strength + self.runs_today)
        foretold = (strength * RATES + self.clean_today[:, None]) / (strength + self.runs_today[:, None])
        self.belief = one_run_later(self.belief, np.where(clean[:, None], foretold, 1.0 - foretold), self.runs == 0)
        self.dates += self.runs_today == 0
        self.runs += 1
        self.runs_today += 1
        self.clean_today += clean
        self.strip = np.hstack((self.strip[:, 1:], clean[:, None].astype(int)))
        self.move_on(self._ready())

    def _move_rates(self) -> None:
        chance = self.rng.random(FUTURES)
        anew = chance < JUMP
        rises = (chance >= JUMP) & (chance < JUMP + (1.0 - JUMP) * LEARN)
        self.rate = np.where(rises, np.minimum(1.0, self.rate + RISE * self.rng.random(FUTURES)), self.rate)
        self.rate[anew] = self._drawn(np.asarray(no_runs()), int(anew.sum()))

    def _ready(self) -> NDArray[np.bool_]:
        at, width = self.rung, self.strip.shape[1]
        counted = np.arange(width)[None, :] >= width - self.clean_of[at][:, None]
        shown = (self.over[at] * self.belief).sum(axis=1) >= self.sure[at]
        enough = (self.strip * counted).sum(axis=1) >= self.clean_runs[at]
        ready = shown & enough & (self.runs >= self.least[at]) & (self.dates >= self.dates_asked[at])
        return np.asarray(ready)

    def move_on(self, ready: NDArray[np.bool_]) -> None:
        """Those that are ready begin the next tier; on the last one, or against an unknown limit, they stay."""
        up = ready & self.passable[self.rung] & (self.rung < self.top)
        count = int(up.sum())
        self.rung[up] += 1
        self.belief[up] = no_runs()
        self.rate[up] = self._drawn(np.asarray(no_runs()), count)
        self.strip[up] = 0
        self.runs[up] = self.dates[up] = 0
        self.clean_today[up] = self.runs_today[up] = 0.0
