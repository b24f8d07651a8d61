"""Who is at which table when: plain values in, plain values out.

A rota is judged by goals in a fixed order; a later goal never costs an earlier one anything:

1. ``empty``: as few empty places as possible (a place is a table in a slot);
2. ``uneven``: the squares of the teams' turns over the term, summed: who had least gets more;
3. ``waiting``: slots until the teams that are to be seen first have had a turn (only when the coach asks);
4. ``relayings``: how often a table is laid differently from the slot before (a bare table's first laying is free);
5. ``moved``: turns of the earlier rota that no longer stand (only when a rota is solved again);
6. ``back_to_back``: turns that follow a turn of the same team without a slot to think in between.

Always: a team once a slot, a table one team a slot, a robot in one place, a team only at a table that is laid for its
tier and large enough, absent teams out, turns set by hand kept.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from classroom.errors import InputError
from missions.errors import MissionsCode

GOALS = ("empty", "uneven", "waiting", "relayings", "moved", "back_to_back")


@dataclass(frozen=True)
class RotaTeam:
    """A team as the rota sees it.

    ``layout`` is what a table must be laid for; ``past_turns`` are its turns in this term so far; teams with the same
    ``robot`` share it; ``first`` asks that it be seen early; ``slots`` are those it is here for (None for all);
    ``just_played`` says that it had the slot before the first one.
    """

    key: int
    layout: Hashable
    past_turns: int = 0
    robot: Hashable | None = None
    first: bool = False
    slots: frozenset[int] | None = None
    just_played: bool = False

    def here(self, slot: int) -> bool:
        return self.slots is None or slot in self.slots


@dataclass(frozen=True)
class RotaTable:
    """A table. ``fits`` are the layouts that it is large enough for (None for all); ``laid`` what stands on it now."""

    key: int
    fits: frozenset[Hashable] | None = None
    laid: Hashable | None = None

    def takes(self, layout: Hashable) -> bool:
        return self.fits is None or layout in self.fits or layout == self.laid


@dataclass(frozen=True, order=True)
class PlannedTurn:
    slot: int
    table: int
    team: int
    by_hand: bool = False


@dataclass(frozen=True)
class RotaTask:
    """What is to be planned: slots 0 to ``slots`` - 1 of one session, or those that are left of it.

    ``by_hand`` are turns that a coach has set and ``kept_free`` the (table, slot) that a coach has cleared: both stay.
    ``earlier`` is the rota that people have already read.
    """

    teams: tuple[RotaTeam, ...]
    tables: tuple[RotaTable, ...]
    slots: int
    most_turns: int
    by_hand: tuple[PlannedTurn, ...] = ()
    kept_free: frozenset[tuple[int, int]] = frozenset()
    earlier: tuple[PlannedTurn, ...] = ()

    @property
    def places(self) -> int:
        return len(self.tables) * self.slots - len(self.kept_free)


@dataclass(frozen=True)
class GoalResult:
    """What was reached for one goal and the least that could have been (proven)."""

    name: str
    value: int
    bound: int

    @property
    def gap(self) -> int:
        return self.value - self.bound


@dataclass(frozen=True)
class Rota:
    """``laid`` says what each table is laid for in each slot."""

    turns: tuple[PlannedTurn, ...]
    laid: dict[tuple[int, int], Hashable]
    goals: tuple[GoalResult, ...] = field(default=())

    @property
    def is_proven(self) -> bool:
        return all(goal.gap == 0 for goal in self.goals)

    def goal(self, name: str) -> GoalResult:
        return next(goal for goal in self.goals if goal.name == name)


def check_task(task: RotaTask) -> None:
    """Refuse a task that no rota can meet, in words that say what to change.

    Raises
    ------
    InputError
        ``no_tables``, ``no_teams``, ``no_slots``, ``twice_in_a_slot``, ``table_taken``, ``robot_taken``,
        ``table_too_small``, ``not_here``, ``unknown_turn``.
    """
    if not task.tables:
        raise InputError(
            MissionsCode.NO_TABLES, _("There is no table to share out. Add one under Settings, then plan again.")
        )
    if task.slots < 1:
        raise InputError(MissionsCode.NO_SLOTS, _("No slot is left. Make the slots shorter or the session longer."))
    if not task.teams:
        raise InputError(MissionsCode.NO_TEAMS, _("No team is here yet. Mark who is here, then plan again."))
    teams = {team.key: team for team in task.teams}
    tables = {table.key: table for table in task.tables}
    seen: dict[tuple[str, Hashable, int], int] = {}
    for turn in task.by_hand:
        if turn.team not in teams or turn.table not in tables or not 0 <= turn.slot < task.slots:
            raise InputError(
                MissionsCode.UNKNOWN_TURN, _("A turn set by hand is for a team, table or slot that is not there.")
            )
        team = teams[turn.team]
        if not team.here(turn.slot):
            raise InputError(
                MissionsCode.NOT_HERE, _("A team is not here in the slot that was set by hand. Free it first.")
            )
        if (turn.table, turn.slot) in task.kept_free:
            raise InputError(
                MissionsCode.TABLE_TAKEN, _("That table is kept free in this slot. Choose another slot or table.")
            )
        if not tables[turn.table].takes(team.layout):
            raise InputError(
                MissionsCode.TABLE_TOO_SMALL, _("That table is too small for the team's tier. Choose another table.")
            )
        claims = [
            (
                "team",
                turn.team,
                MissionsCode.TWICE_IN_A_SLOT,
                _("The team would stand at two tables at once. Move one of the two."),
            ),
            (
                "table",
                turn.table,
                MissionsCode.TABLE_TAKEN,
                _("That table is taken in this slot. Choose another slot or table."),
            ),
        ]
        if team.robot is not None:
            words = _("The team's robot is at another table in this slot. Choose another slot.")
            claims.append(("robot", team.robot, MissionsCode.ROBOT_TAKEN, words))  # type: ignore[arg-type]
        for kind, key, code, words in claims:
            if (kind, key, turn.slot) in seen:
                raise InputError(code, words)
            seen[kind, key, turn.slot] = turn.team


def even_share(teams: int, tables: int, slots: int) -> int:
    """The most turns a team gets in one session: its even share and one to catch up with."""
    return 1 if teams == 0 else min(slots, -(-tables * slots // teams) + 1)


def judge_rota(task: RotaTask, turns: Sequence[PlannedTurn], laid: dict[tuple[int, int], Hashable]) -> dict[str, int]:
    """The goals' values of a rota, counted directly from it.

    Raises
    ------
    ValueError
        When the rota breaks a rule that always holds; a rota from ``plan_rota`` never does.
    """
    teams = {team.key: team for team in task.teams}
    tables = {table.key: table for table in task.tables}
    _hold_rules(task, turns, laid)
    played: dict[int, set[int]] = {key: set() for key in teams}
    for turn in turns:
        played[turn.team].add(turn.slot)
    relayings = 0
    for key, table in tables.items():
        before = table.laid
        for slot in range(task.slots):
            now = laid.get((key, slot), before)
            relayings += before is not None and now != before
            before = now
    waiting = sum(min(played[team.key], default=task.slots) for team in task.teams if team.first)
    kept = {(turn.team, turn.slot) for turn in turns}
    moved = sum((turn.team, turn.slot) not in kept for turn in set(task.earlier) if turn.team in teams)
    back_to_back = sum(
        (slot - 1 in slots) or (slot == 0 and teams[key].just_played) for key, slots in played.items() for slot in slots
    )
    return {
        "empty": task.places - len(turns),
        "uneven": sum((team.past_turns + len(played[team.key])) ** 2 for team in task.teams),
        "waiting": waiting,
        "relayings": relayings,
        "moved": moved,
        "back_to_back": back_to_back,
    }


def _hold_rules(task: RotaTask, turns: Sequence[PlannedTurn], laid: dict[tuple[int, int], Hashable]) -> None:
    teams = {team.key: team for team in task.teams}
    tables = {table.key: table for table in task.tables}
    claimed: set[tuple[str, Hashable, int]] = set()
    for turn in turns:
        team = teams[turn.team]
        claims: set[tuple[str, Hashable, int]] = {("team", turn.team, turn.slot), ("table", turn.table, turn.slot)}
        if team.robot is not None:
            claims.add(("robot", team.robot, turn.slot))
        if claims & claimed:
            raise ValueError(f"{turn}: a team, table or robot is in two places")
        claimed |= claims
        if not team.here(turn.slot):
            raise ValueError(f"{turn}: the team is not here")
        if (turn.table, turn.slot) in task.kept_free:
            raise ValueError(f"{turn}: the table is kept free")
        if laid.get((turn.table, turn.slot)) != team.layout or not tables[turn.table].takes(team.layout):
            raise ValueError(f"{turn}: the table is not laid for the team's tier")
    by_hand = Counter(turn.team for turn in task.by_hand)
    for key, count in Counter(turn.team for turn in turns).items():
        if count > max(task.most_turns, by_hand[key]):
            raise ValueError(f"team {key} has {count} turns")
    missing = {(t.team, t.table, t.slot) for t in task.by_hand} - {(t.team, t.table, t.slot) for t in turns}
    if missing:
        raise ValueError(f"turns set by hand are gone: {missing}")
