"""A term played on run by run by the rule's own update and answer: slow, plain, and nothing shared with the projection."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Sequence

from missions.readiness.rules.answer import answer
from missions.readiness.rules.belief import ALIKE, CELLS, JUMP, LEARN, RISE, no_runs
from missions.readiness.rules.evidence import CountedRun, Evidence, Rule, update


def _drawn(belief: Sequence[float], chance: random.Random) -> float:
    cell = chance.choices(range(CELLS), weights=belief)[0]
    return (cell + chance.random()) / CELLS


def plain_ends(
    rules: Sequence[Rule], start: Evidence, *, pace: int, sessions: int, futures: int, seed: int
) -> list[int]:
    """How many tiers up each pretend term ends."""
    chance, strength, ends = random.Random(seed), 1.0 / ALIKE - 1.0, []
    assert start.last_at is not None
    for _ in range(futures):
        evidence, rung, rate = start, 0, _drawn(start.belief, chance)
        for session in range(1, sessions + 1):
            clean_today = runs_today = 0
            for run in range(pace):
                if chance.random() < JUMP:
                    rate = _drawn(no_runs(), chance)
                elif chance.random() < LEARN:
                    rate = min(1.0, rate + RISE * chance.random())
                clean = chance.random() < (strength * rate + clean_today) / (strength + runs_today)
                at = start.last_at + dt.timedelta(weeks=session, minutes=run)
                evidence = update(evidence, CountedRun(clean, at), rules[rung])
                clean_today, runs_today = clean_today + clean, runs_today + 1
                if rung < len(rules) - 1 and answer(evidence, rules[rung], at).code == "ready":
                    evidence, rung, rate, clean_today, runs_today = (
                        Evidence(),
                        rung + 1,
                        _drawn(no_runs(), chance),
                        0,
                        0,
                    )
        ends.append(rung)
    return ends
