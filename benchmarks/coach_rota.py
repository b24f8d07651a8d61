"""How long a page waits for a first rota, how long the best one takes, and what is left unproven: 24 teams, 6 tables, 12 slots, seeded and invented.

Twelve afternoons, from one mission of three tiers to twelve different set-ups, with uneven terms behind them, shared
robots, late teams and tables that are laid already.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable

from benchmarks.figures import Figure
from missions.day.rules.rota import GOALS, Rota, RotaTable, RotaTask, RotaTeam, even_share, judge_rota
from missions.day.rules.rota_first import first_rota
from missions.day.rules.rota_solve import NODES, plan_rota

TEAMS, TABLES, SLOTS = 24, 6, 12
FIRST_BAR_S = 1.0
BEST_BAR_S = 60.0


def afternoon(
    seed: int, set_ups: int, *, shared: int = 0, late: int = 0, laid: bool = False, needs: int = 3
) -> RotaTask:
    chance = random.Random(seed)
    first = set(chance.sample(range(TEAMS), needs))
    teams = tuple(
        RotaTeam(
            key,
            chance.randrange(set_ups),
            past_turns=chance.randint(12, 18),
            robot=key // 2 if key < shared else None,
            first=key in first,
            slots=frozenset(range(chance.randint(1, 5), SLOTS)) if key < late else None,
        )
        for key in range(TEAMS)
    )
    tables = tuple(RotaTable(key, laid=chance.randrange(set_ups) if laid else None) for key in range(TABLES))
    return RotaTask(teams, tables, SLOTS, even_share(TEAMS, TABLES, SLOTS))


def afternoons() -> list[RotaTask]:
    kinds = [{}, {"shared": 12, "late": 4}, {"needs": 0, "laid": True}]
    return [afternoon(set_ups, set_ups, **kind) for set_ups in (3, 4, 6, 12) for kind in kinds]


def _timed(solve: Callable[[RotaTask], Rota]) -> list[tuple[float, Rota]]:
    found = []
    for task in afternoons():
        begun = time.perf_counter()
        rota = solve(task)
        took = time.perf_counter() - begun
        counted = judge_rota(task, rota.turns, rota.laid)
        assert all(counted[goal.name] == goal.value for goal in rota.goals)
        found.append((took, rota))
    return found


def first() -> Figure:
    """What a page waits for."""
    found = _timed(first_rota)
    times = sorted(took for took, _ in found)
    empty = sum(rota.goal("empty").value for _, rota in found)
    note = (
        f"the first good rota: slowest of {len(found)} afternoons of {TEAMS} teams x {TABLES} tables x {SLOTS} slots, "
        f"median {times[len(times) // 2]:.2f} s; empty places {empty}"
    )
    return Figure(times[-1], "s", FIRST_BAR_S, note)


def best() -> Figure:
    """What the worker looks for while the first one stands."""
    found = _timed(plan_rota)
    times = sorted(took for took, _ in found)
    gaps = {name: max(rota.goal(name).gap for _, rota in found) for name in GOALS}
    proven = sum(all(goal.gap == 0 for goal in rota.goals[:-1]) for _, rota in found)
    whole = sum(rota.is_proven for _, rota in found)
    said = ", ".join(f"{name} {gap}" for name, gap in gaps.items() if gap) or "none"
    note = (
        f"slowest of {len(found)} afternoons of {TEAMS} teams x {TABLES} tables x {SLOTS} slots, {NODES} nodes a goal, in the "
        f"background; median {times[len(times) // 2]:.2f} s; proven best in all goals but turns back to back {proven}, in "
        f"all {whole}; largest gap: {said}"
    )
    return Figure(times[-1], "s", BEST_BAR_S, note)


FIGURES = {"coach.rota": first, "coach.rota_best": best}
