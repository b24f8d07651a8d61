"""A good rota at once: slot by slot the best sharing-out of its tables, then exchanges while they help.

What it costs is counted in work, not in time, so that a slow machine gives the same answer. ``rota_solve`` finds the best.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator

import numpy as np
from scipy.optimize import linear_sum_assignment

from missions.day.rules.rota import (
    GOALS,
    GoalResult,
    PlannedTurn,
    Rota,
    RotaTable,
    RotaTask,
    RotaTeam,
    check_task,
    judge_rota,
)

#: Turns that may be looked at while exchanging: a tenth of a second or so on a laptop, whatever the club's size.
LOOKS = 30_000
_NEVER = 1e9


def first_rota(task: RotaTask, *, looks: int = LOOKS) -> Rota:
    """A rota that keeps every rule; its goals are values reached, with 0 as the least that is proven.

    Raises
    ------
    InputError
        As ``missions.day.rules.rota.check_task``.
    """
    check_task(task)
    turns = _exchanged(task, _filled(task), looks)
    laid = laid_for(task, turns)
    values = judge_rota(task, turns, laid)
    # No club can have fewer empty places than none, and no square sum below an even share: nothing else is known here.
    return Rota(tuple(sorted(turns)), laid, tuple(GoalResult(name, values[name], 0) for name in GOALS))


def laid_for(task: RotaTask, turns: list[PlannedTurn]) -> dict[tuple[int, int], Hashable]:
    """What each table is laid for: as its turns want it, and between them as it stood."""
    layout_of = {team.key: team.layout for team in task.teams}
    wanted = {(turn.table, turn.slot): layout_of[turn.team] for turn in turns}
    laid: dict[tuple[int, int], Hashable] = {}
    for table in task.tables:
        first = next((wanted[table.key, s] for s in range(task.slots) if (table.key, s) in wanted), None)
        stands = table.laid if table.laid is not None else first
        for slot in range(task.slots):
            stands = wanted.get((table.key, slot), stands)
            if stands is not None:
                laid[table.key, slot] = stands
    return laid


def _filled(task: RotaTask) -> list[PlannedTurn]:
    by_hand = Counter(turn.team for turn in task.by_hand)
    most = {team.key: max(task.most_turns, by_hand[team.key]) for team in task.teams}
    played: dict[int, set[int]] = defaultdict(set)
    for turn in task.by_hand:
        played[turn.team].add(turn.slot)
    read = {(turn.team, turn.slot) for turn in task.earlier}
    stands: dict[int, Hashable | None] = {table.key: table.laid for table in task.tables}
    share = _shares(task, most)
    turns: list[PlannedTurn] = []
    for slot in range(task.slots):
        set_here = [turn for turn in task.by_hand if turn.slot == slot]
        taken = {turn.table for turn in set_here}
        tables = [t for t in task.tables if t.key not in taken and (t.key, slot) not in task.kept_free]
        teams = _who_may(task, slot, set_here, played, most)
        here = [*set_here, *_shared_out(slot, tables, teams, played, stands, read, share)]
        for turn in here:
            played[turn.team].add(slot)
            stands[turn.table] = next(team.layout for team in task.teams if team.key == turn.team)
        turns += here
    return turns


def _who_may(
    task: RotaTask, slot: int, set_here: list[PlannedTurn], played: dict[int, set[int]], most: dict[int, int]
) -> list[RotaTeam]:
    """Teams that are here, have turns left and a robot that is not elsewhere: of those that share one the least served."""
    standing = {turn.team for turn in set_here}
    robots = {team.robot for team in task.teams if team.key in standing and team.robot is not None}
    may = []
    for team in sorted(task.teams, key=lambda t: (t.past_turns + len(played[t.key]), not t.first)):
        if (
            team.key in standing
            or team.robot in robots
            or not team.here(slot)
            or len(played[team.key]) >= most[team.key]
        ):
            continue
        if team.robot is not None:
            robots.add(team.robot)
        may.append(team)
    return may


def _shares(task: RotaTask, most: dict[int, int]) -> dict[int, int]:
    """How many turns each team would get if every table took every team: place by place to who had least."""
    share = dict.fromkeys(most, 0)
    room = {team.key: min(most[team.key], task.slots if team.slots is None else len(team.slots)) for team in task.teams}
    for _ in range(task.places):
        open_to = [team for team in task.teams if share[team.key] < room[team.key]]
        if not open_to:
            break
        share[min(open_to, key=lambda t: t.past_turns + share[t.key]).key] += 1
    return share


def _shared_out(
    slot: int,
    tables: list[RotaTable],
    teams: list[RotaTeam],
    played: dict[int, set[int]],
    stands: dict[int, Hashable | None],
    read: set[tuple[int, int]],
    share: dict[int, int],
) -> list[PlannedTurn]:
    """One slot: who still has a share comes before who has had it, then who is to be seen, then a table as it stands."""
    if not tables or not teams:
        return []
    cost = np.full((len(tables), len(teams)), _NEVER)
    for column, team in enumerate(teams):
        gone = played[team.key]
        due = share[team.key] - len(gone)
        own = -30.0 * due if due > 0 else 100_000.0 + 10_000.0 * (team.past_turns + len(gone))
        own -= 3_000.0 if team.first and not gone and due > 0 else 0.0
        own += 40.0 if slot - 1 in gone or (slot == 0 and team.just_played) else 0.0
        own -= 60.0 if (team.key, slot) in read else 0.0
        for row, table in enumerate(tables):
            if table.takes(team.layout):
                stood = stands[table.key]
                cost[row, column] = own + (0.0 if stood == team.layout else 100.0 if stood is None else 300.0)
    rows, columns = linear_sum_assignment(cost)
    return [
        PlannedTurn(slot, tables[row].key, teams[column].key)
        for row, column in zip(rows, columns, strict=True)
        if cost[row, column] < _NEVER
    ]


def _exchanged(task: RotaTask, turns: list[PlannedTurn], looks: int) -> list[PlannedTurn]:
    best, value = turns, _value(task, turns)
    left, better = looks, value is not None
    while better:
        better = False
        for other in _neighbours(task, best):
            left -= len(other) + 1
            if left < 0:
                return best
            found = _value(task, other)
            if found is not None and (value is None or found < value):
                best, value, better = other, found, True
                break
    return best


def _value(task: RotaTask, turns: list[PlannedTurn]) -> tuple[int, ...] | None:
    try:
        return tuple(judge_rota(task, turns, laid_for(task, turns)).values())
    except ValueError:
        return None


def _neighbours(task: RotaTask, turns: list[PlannedTurn]) -> Iterator[list[PlannedTurn]]:
    """First a team into an empty place or another's, then two that change places."""
    hand = {(turn.slot, turn.table) for turn in task.by_hand}
    free = [turn for turn in turns if (turn.slot, turn.table) not in hand]
    full = {(turn.table, turn.slot) for turn in turns} | set(task.kept_free)
    served = Counter(turn.team for turn in turns)
    served_in_term = {team.key: team.past_turns + served[team.key] for team in task.teams}
    least_first = sorted(task.teams, key=lambda team: served_in_term[team.key])
    for slot in range(task.slots):
        for table in task.tables:
            if (table.key, slot) not in full:
                yield from ([*turns, PlannedTurn(slot, table.key, team.key)] for team in least_first)
    for turn in free:
        rest = [one for one in turns if one is not turn]
        for team in least_first:
            if team.key != turn.team and served_in_term[team.key] <= served_in_term[turn.team]:
                yield [*rest, PlannedTurn(turn.slot, turn.table, team.key)]
    for number, one in enumerate(free):
        for two in free[number + 1 :]:
            if one.team != two.team and one.slot != two.slot:
                rest = [turn for turn in turns if turn is not one and turn is not two]
                swapped = [PlannedTurn(one.slot, one.table, two.team), PlannedTurn(two.slot, two.table, one.team)]
                yield [*rest, *swapped]
