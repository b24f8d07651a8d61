"""A rota's task and its answer as plain JSON, for background work: the same task gives the same text."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from missions.day.rules.rota import GoalResult, PlannedTurn, Rota, RotaTable, RotaTask, RotaTeam


def task_to_json(task: RotaTask) -> dict[str, Any]:
    return {
        "teams": [asdict(team) | {"slots": _listed(team.slots)} for team in task.teams],
        "tables": [asdict(table) | {"fits": _listed(table.fits)} for table in task.tables],
        "slots": task.slots,
        "most_turns": task.most_turns,
        "by_hand": [asdict(turn) for turn in task.by_hand],
        "kept_free": [list(place) for place in sorted(task.kept_free)],
        "earlier": [asdict(turn) for turn in task.earlier],
    }


def task_from_json(said: dict[str, Any]) -> RotaTask:
    return RotaTask(
        teams=tuple(RotaTeam(**team | {"slots": _frozen(team["slots"])}) for team in said["teams"]),
        tables=tuple(RotaTable(**table | {"fits": _frozen(table["fits"])}) for table in said["tables"]),
        slots=said["slots"],
        most_turns=said["most_turns"],
        by_hand=tuple(PlannedTurn(**turn) for turn in said["by_hand"]),
        kept_free=frozenset((table, slot) for table, slot in said["kept_free"]),
        earlier=tuple(PlannedTurn(**turn) for turn in said["earlier"]),
    )


def rota_to_json(rota: Rota) -> dict[str, Any]:
    """Without ``laid``: the turns say it."""
    return {"turns": [asdict(turn) for turn in rota.turns], "goals": [asdict(goal) for goal in rota.goals]}


def rota_from_json(said: dict[str, Any]) -> Rota:
    goals = tuple(GoalResult(**goal) for goal in said["goals"])
    return Rota(tuple(PlannedTurn(**turn) for turn in said["turns"]), {}, goals)


def _listed(values: frozenset[Any] | None) -> list[Any] | None:
    return None if values is None else sorted(values)


def _frozen(values: list[Any] | None) -> frozenset[Any] | None:
    return None if values is None else frozenset(values)
