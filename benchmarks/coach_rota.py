"""How long a rota takes to solve, and what is left unproven: 24 teams, 6 tables, 12 slots, seeded and invented.

Twelve afternoons, from one mission of three tiers to twelve different set-ups, with uneven terms behind them, shared
robots, late teams and tables that are laid already.
"""

from __future__ import annotations

import random
import time

from benchmarks.figures import Figure
from missions.day.rules.rota import GOALS, Rota, RotaTable, RotaTask, RotaTeam, even_share, judge_rota
from missions.day.rules.rota_solve import plan_rota
from missions.day.services.plan_rota import SECONDS

TEAMS, TABLES, SLOTS = 24, 6, 12
BAR_S = 5.0


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


def solved() -> list[tuple[float, Rota]]:
    found = []
    for task in afternoons():
        begun = time.perf_counter()
        rota = plan_rota(task, seconds=SECONDS, clock=time.monotonic)
        took = time.perf_counter() - begun
        counted = judge_rota(task, rota.turns, rota.laid)
        assert all(counted[goal.name] == goal.value for goal in rota.goals)
        found.append((took, rota))
    return found


def slowest() -> Figure:
    found = solved()
    times = sorted(took for took, _ in found)
    gaps = {name: max(rota.goal(name).gap for _, rota in found) for name in GOALS}
    proven = sum(all(goal.gap == 0 for goal in rota.goals[:-1]) for _, rota in found)
    whole = sum(rota.is_proven for _, rota in found)
    said = ", ".join(f"{name} {gap}" for name, gap in gaps.items() if gap) or "none"
    note = (
        f"slowest of {len(found)} afternoons of {TEAMS} teams x {TABLES} tables x {SLOTS} slots, limit {SECONDS:g} s; "
        f"median {times[len(times) // 2]:.2f} s; proven best in all goals but turns back to back {proven}, in all {whole}; "
        f"largest gap: {said}"
    )
    return Figure(times[-1], "s", BAR_S, note)


FIGURES = {"coach.rota": slowest}
