"""How often the readiness rule is wrong over a term, looked at after every run.

``python -m benchmarks.coach_rule`` prints the table for true success rates from 0.3 to 0.95 and for teams that improve
half-way. Teams are simulated by the thousand, so the rule is written here once more on arrays;
``tests/missions/readiness/test_rates.py`` holds it against ``missions.readiness`` itself, run by run.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import special

from benchmarks.figures import Figure
from missions.readiness.rules.evidence import PRIOR, Rule

RUNS, RUNS_A_SESSION, TEAMS, SEED = 48, 4, 20_000, 20_260
RATES = (0.3, 0.4, 0.5, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95)
#: Teams that go from one true rate to another after half of the term.
IMPROVING = ((0.4, 0.85), (0.5, 0.9))
FALSE_AT, FALSE_BAR = 0.5, 0.05
MISSED_AT, MISSED_BAR, MEDIAN_BAR = 0.8, 0.05, 12


def first_ready(success: NDArray[np.bool_], rule: Rule, runs_a_session: int = RUNS_A_SESSION) -> NDArray[np.int64]:
    """After how many runs each team (row) is first called ready; 0 for never. Shape (teams, runs)."""
    teams, runs = success.shape
    first = np.zeros(teams, dtype=np.int64)
    a, b = np.full(teams, PRIOR[0]), np.full(teams, PRIOR[1])
    for k in range(runs):
        a = rule.forget * a + (1 - rule.forget) * PRIOR[0] + success[:, k]
        b = rule.forget * b + (1 - rule.forget) * PRIOR[1] + ~success[:, k]
        clean = success[:, max(0, k + 1 - rule.clean_of) : k + 1].sum(axis=1)
        dates = k // runs_a_session + 1
        if k + 1 < rule.least_runs or dates < rule.dates:
            continue
        waiting = np.flatnonzero((first == 0) & (clean >= rule.clean_runs))
        ready = waiting[special.betaincc(a[waiting], b[waiting], rule.target) >= rule.confidence]
        first[ready] = k + 1
    return first


def term(rate: float, then: float | None = None, teams: int = TEAMS, seed: int = SEED) -> NDArray[np.bool_]:
    """Runs of many teams over a term, at one true rate or improving half-way."""
    rates = np.full(RUNS, rate)
    if then is not None:
        rates[RUNS // 2 :] = then
    return np.random.default_rng(seed).random((teams, RUNS)) < rates


def rates_of(rule: Rule, rate: float) -> tuple[float, float]:
    """(share of teams called ready within the term, median runs until then over all teams; inf over half never)."""
    first = first_ready(term(rate), rule)
    return float(np.mean(first > 0)), float(np.median(np.where(first > 0, first, np.inf)))


def improving(rule: Rule, before: float, after: float) -> tuple[float, float, float]:
    """(called ready before improving, within the half term after it, median runs after it of those called)."""
    first = first_ready(term(before, after), rule)
    later = first[first > RUNS // 2] - RUNS // 2
    early = float(np.mean((first > 0) & (first <= RUNS // 2)))
    return early, float(len(later) / len(first)), float(np.median(later)) if len(later) else float("inf")


def table(rule: Rule) -> str:
    """The table for the docs."""
    lines = [
        f"Rule: P(true rate >= {rule.target}) >= {rule.confidence}, forget {rule.forget}, {rule.clean_runs} clean of "
        f"{rule.clean_of}, {rule.dates} dates; {TEAMS} teams, {RUNS} runs a term, {RUNS_A_SESSION} a session.",
        "true rate  called ready  median runs",
    ]
    for rate in RATES:
        share, median = rates_of(rule, rate)
        lines.append(f"{rate:9.2f}  {100 * share:10.1f} %  {median:11.0f}")
    for before, after in IMPROVING:
        early, late, median = improving(rule, before, after)
        lines.append(
            f"{before} then {after} from run {RUNS // 2 + 1}: {100 * early:.1f} % called before, {100 * late:.1f} % after, "
            f"median {median:.0f} runs after the change"
        )
    return "\n".join(lines)


def false_ready() -> Figure:
    """Share of teams at a true rate of 0.5 that are ever called ready in a term."""
    share, _ = rates_of(Rule(), FALSE_AT)
    return Figure(
        share, "of teams", FALSE_BAR, f"true rate {FALSE_AT}, looked at after each of {RUNS} runs, {TEAMS} teams"
    )


def missed() -> Figure:
    """Share of teams at a true rate of 0.8 that are never called ready in a term."""
    share, _ = rates_of(Rule(), MISSED_AT)
    return Figure(1.0 - share, "of teams", MISSED_BAR, f"true rate {MISSED_AT}, {RUNS} runs, {TEAMS} teams")


def median_runs() -> Figure:
    """Median runs until a team at a true rate of 0.8 is called ready."""
    _, median = rates_of(Rule(), MISSED_AT)
    return Figure(median, "runs", MEDIAN_BAR, f"true rate {MISSED_AT}, {TEAMS} teams")


def whole_rule() -> Figure:
    """The worst of the three aims as a part of its bar, with the whole table in the note."""
    rule = Rule()
    called = {rate: rates_of(rule, rate) for rate in RATES}
    worst = max(
        called[FALSE_AT][0] / FALSE_BAR, (1.0 - called[MISSED_AT][0]) / MISSED_BAR, called[MISSED_AT][1] / MEDIAN_BAR
    )
    words = ", ".join(f"{rate}: {100 * share:.1f} % ({median:.0f} runs)" for rate, (share, median) in called.items())
    return Figure(worst, "of its bar", 1.0, f"called ready at true rate {words}")


FIGURES = {
    "coach.rule": whole_rule,
    "coach.rule_false": false_ready,
    "coach.rule_missed": missed,
    "coach.rule_runs": median_runs,
}

if __name__ == "__main__":
    print(table(Rule()))
