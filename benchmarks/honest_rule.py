"""How honest the readiness rule is over a term that is looked at after every run, for teams that change as well.

``python -m benchmarks.honest_rule [TEAMS]`` prints the tables of ``docs/readiness-rule.md``, with the rivals that were
tried.
Terms come from ``benchmarks/plain_terms.py``, which knows nothing of the rule.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import cache

import numpy as np

from benchmarks.figures import Figure
from benchmarks.plain_terms import RUNS, Rates, Runs, ramp, simulate, steady, step
from benchmarks.readiness_rules import Looks, Moves, by_count_table, by_discounted_counts, by_filter, stuck
from missions.readiness.rules.evidence import Rule

TEAMS, SEED = 40_000, 20_260
HALF, AFTER_A_FALL = RUNS // 2, 6
SHORT = (18, 28, 48)

#: name, true rate at each run, correlation of two runs of a session.
TERMS: dict[str, tuple[Rates, float]] = {
    "steady 0.5": (steady(0.5), 0.0),
    "steady 0.5, alike 0.1": (steady(0.5), 0.1),
    "steady 0.5, alike 0.2": (steady(0.5), 0.2),
    "steady 0.8": (steady(0.8), 0.0),
    "steady 0.8, alike 0.1": (steady(0.8), 0.1),
    "steady 0.8, alike 0.2": (steady(0.8), 0.2),
    "steady 0.3": (steady(0.3), 0.0),
    "steady 0.6": (steady(0.6), 0.0),
    "steady 0.65": (steady(0.65), 0.0),
    "steady 0.7": (steady(0.7), 0.0),
    "steady 0.9": (steady(0.9), 0.0),
    "0.3, then 0.8": (step(0.3, 0.8), 0.0),
    "0.5, then 0.9": (step(0.5, 0.9), 0.0),
    "0.3 rising to 0.9": (ramp(0.3, 0.9), 0.0),
    "0.1 rising to 0.9": (ramp(0.1, 0.9), 0.0),
    "0.9, then 0.4": (step(0.9, 0.4), 0.0),
}

Way = Callable[[Runs], Looks]
NOW = Rule()
BEFORE = Rule(confidence=0.85, clean_runs=8, clean_of=10, window=10)
#: The rule, and what was tried beside it. The first three rivals have been set to call about as many falsely at 0.5; the last three show what each part is for.
WAYS: dict[str, Way] = {
    "the rule": lambda runs: by_filter(runs, NOW),
    "as it was: counts that fade by 7 % a run, 85 % sure, 8 of 10": lambda runs: by_discounted_counts(
        runs, BEFORE, 0.93
    ),
    "count table: nothing fades, 92 % sure": lambda runs: by_count_table(runs, Rule(confidence=0.92)),
    "filter that learns anything better with 5 % a run, 97.5 % sure": lambda runs: by_filter(
        runs,
        Rule(confidence=0.975, clean_runs=0, clean_of=1),
        Moves(learn=0.05, rise=1.0, jump=0.0, alike=0.0, prior=1.0),
    ),
    "the rule's filter, runs of a session taken as if independent": lambda runs: by_filter(runs, NOW, Moves(alike=0.0)),
    "the rule's filter without jumps": lambda runs: by_filter(runs, NOW, Moves(jump=0.0)),
    "the rule's filter without learning": lambda runs: by_filter(runs, NOW, Moves(learn=0.0)),
}


@cache
def term(name: str) -> Runs:
    rates, alike = TERMS[name]
    return simulate(rates, TEAMS, SEED + list(TERMS).index(name), alike)


@cache
def looks(name: str, way: str = "the rule") -> Looks:
    return WAYS[way](term(name))


def called(name: str, runs: int = RUNS, way: str = "the rule") -> float:
    """Share of teams that are called ready at some look within so many runs."""
    return float(looks(name, way)[:, :runs].any(axis=1).mean())


def called_late(name: str, way: str = "the rule") -> float:
    """Share of teams that are called ready at some look in the second half of the term."""
    return float(looks(name, way)[:, HALF:].any(axis=1).mean())


def median_runs(name: str, way: str = "the rule") -> float:
    """Runs until half of all teams have been called ready; infinite when fewer are."""
    ready = looks(name, way)
    return float(np.median(np.where(ready.any(axis=1), ready.argmax(axis=1) + 1, np.inf)))


def still_ready(name: str, way: str = "the rule") -> float:
    """Of the teams that are called ready just before the fall: the share that are so a few runs after it."""
    ready = looks(name, way)
    return float(ready[ready[:, HALF - 1], HALF - 1 + AFTER_A_FALL].mean())


@cache
def stuck_looks(name: str) -> Looks:
    return stuck(term(name), NOW.target)


#: figure, what it is, how it is measured, its unit, its bar, whether more is better.
MEASURES: dict[str, tuple[str, Callable[[str], float], str, float, bool]] = {
    "false": ("called ready, true rate 0.5", lambda way: called("steady 0.5", way=way), "of teams", 0.046, False),
    "false_alike_1": (
        "the same, runs of a session correlated by 0.1",
        lambda way: called("steady 0.5, alike 0.1", way=way),
        "of teams",
        0.09,
        False,
    ),
    "false_alike_2": (
        "the same, runs of a session correlated by 0.2",
        lambda way: called("steady 0.5, alike 0.2", way=way),
        "of teams",
        0.14,
        False,
    ),
    "missed": ("never called, true rate 0.8", lambda way: 1 - called("steady 0.8", way=way), "of teams", 0.02, False),
    "median": ("median runs, true rate 0.8", lambda way: median_runs("steady 0.8", way), "runs", 13, False),
    "found_3_8": (
        "0.3, then 0.8: found within 24 runs",
        lambda way: called_late("0.3, then 0.8", way),
        "of teams",
        0.44,
        True,
    ),
    "found_5_9": (
        "0.5, then 0.9: found within 24 runs",
        lambda way: called_late("0.5, then 0.9", way),
        "of teams",
        0.92,
        True,
    ),
    "found_rising": (
        "0.3 rising to 0.9: found",
        lambda way: called("0.3 rising to 0.9", way=way),
        "of teams",
        0.42,
        True,
    ),
    "fallen": (
        f"0.9, then 0.4: still ready after {AFTER_A_FALL} runs",
        lambda way: still_ready("0.9, then 0.4", way),
        "of teams that were",
        0.11,
        False,
    ),
}


def _figure(name: str) -> Callable[[], Figure]:
    what, measure, unit, bar, at_least = MEASURES[name]
    note = f"{what}; {TEAMS} teams, {RUNS} runs, looked at after each"
    return lambda: Figure(measure("the rule"), unit, bar, note, at_least)


def stuck_while_rising() -> Figure:
    """Share of all looks at which a team that rises from 0.1 to 0.9 is called stuck."""
    return Figure(float(stuck_looks("0.1 rising to 0.9").mean()), "of looks", 0.08, f"{TEAMS} teams, {RUNS} looks each")


def stuck_found() -> Figure:
    """Share of teams at a true rate of 0.3 that are called stuck by run 24."""
    share = float(stuck_looks("steady 0.3")[:, :24].any(axis=1).mean())
    return Figure(share, "of teams", 0.75, f"true rate 0.3, by run 24, {TEAMS} teams", at_least=True)


def stuck_near_the_bar() -> Figure:
    """Share of teams at a true rate of 0.6, just under the bar, that are ever called stuck."""
    share = float(stuck_looks("steady 0.6").any(axis=1).mean())
    return Figure(share, "of teams", 0.25, f"true rate 0.6, ever in {RUNS} runs, {TEAMS} teams")


FIGURES = {f"honest.rule_{name}": _figure(name) for name in MEASURES} | {
    "honest.rule_stuck_rising": stuck_while_rising,
    "honest.rule_stuck_found": stuck_found,
    "honest.rule_stuck_near_bar": stuck_near_the_bar,
}


def tables() -> str:
    """For the docs: the rule and its rivals, then every term at three lengths."""
    lines = ["| | bar | " + " | ".join(WAYS) + " |", "|---|---|" + "---|" * len(WAYS)]
    for what, measure, unit, bar, at_least in MEASURES.values():
        cells = [_shown(measure(way), unit) for way in WAYS]
        lines.append(f"| {what} | {'≥' if at_least else '≤'} {_shown(bar, unit)} | " + " | ".join(cells) + " |")
    lines += [
        "",
        "| term | " + " | ".join(f"called within {runs}" for runs in SHORT) + " | median runs |",
        "|---|" + "---|" * 4,
    ]
    for name in TERMS:
        shares = " | ".join(_shown(called(name, runs), "") for runs in SHORT)
        median = median_runs(name)
        lines.append(f"| {name} | {shares} | {f'{median:.0f}' if np.isfinite(median) else '–'} |")
    lines += ["", "| stuck | bar | measured |", "|---|---|---|"]
    for figure, sign in ((stuck_while_rising(), "≤"), (stuck_found(), "≥"), (stuck_near_the_bar(), "≤")):
        lines.append(f"| {figure.note} | {sign} {_shown(figure.bar or 0, '')} | {_shown(figure.value, '')} |")
    return "\n".join(lines)


def _shown(value: float, unit: str) -> str:
    return f"{value:.0f}" if unit == "runs" else f"{100 * value:.1f} %"


if __name__ == "__main__":
    TEAMS = int(sys.argv[1]) if len(sys.argv) > 1 else TEAMS
    print(tables())
