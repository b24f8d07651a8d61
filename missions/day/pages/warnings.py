"""What stands in the way of a good rota, in words, each at its place: a team, a table, a turn."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from classroom.models import RobotState, Table
from classroom.site.isolated import isolated
from missions.day.pages.teams import DayTeam, who_plays
from missions.day.rules.rota import PlannedTurn, RotaTable, RotaTask, RotaTeam
from missions.day.rules.rota_why import why_twice
from missions.day.services.plan_rota import large_enough, tables_named, what_fits
from missions.models import PlannedMission, RotaTurn


@dataclass(frozen=True)
class RotaWarnings:
    """Sentences by the keys of teams and tables; ``twice`` by the key of the turn; ``fewest`` in the club's order."""

    teams: dict[int, str]
    tables: dict[int, str]
    twice: dict[int, str]
    fewest: tuple[str, ...]


def rota_warnings(
    teams: list[DayTeam],
    tables: list[Table],
    turns: Sequence[RotaTurn],
    planned: Iterable[PlannedMission],
    minutes: dict[int, int],
    *,
    slot_minutes: int,
    present: int,
) -> RotaWarnings:
    """``minutes`` is the table time of the term before this session; a turn that is over is no longer spoken of."""
    plays = who_plays(teams)
    named = [(plan.mission_id, plan.table_id) for plan in planned]
    standing = [turn for turn in turns if turn.team_id]
    have = Counter(turn.team_id for turn in standing)
    fits = what_fits(named, tables, plays)
    playing = {team.team.pk for team in plays}
    said = {team.team.pk: _of_team(team, playing, fits, bool(standing), have) for team in teams if team.is_here}
    task = _as_task(plays, tables, fits, minutes, slot_minutes)
    return RotaWarnings(
        teams={key: words for key, words in said.items() if words},
        tables=_of_tables(plays, tables, fits, named, {turn.table_id for turn in standing}),
        twice=_twice(task, standing, present),
        fewest=_fewest(plays, minutes, have, slot_minutes) if standing else (),
    )


def _of_team(
    team: DayTeam, playing: set[int], fits: dict[int, frozenset[str]], is_planned: bool, have: Counter[int | None]
) -> str:
    name = team.team.name
    if team.team.pk not in playing and team.robot is None:
        if team.resting:
            words = {"name": isolated(name), "robot": isolated(team.resting)}
            if team.resting.state == RobotState.IN_REPAIR:
                return _("%(name)s’s %(robot)s is in repair: lend another.") % words
            return _("%(name)s’s %(robot)s is resting: lend another.") % words
        return _("%(name)s has no robot: lend one.") % {"name": isolated(name)}
    if team.team.pk not in playing:
        return _("%(name)s has no child on record: add the children first.") % {"name": isolated(name)}
    assert team.tier_version is not None
    if fits and not any(team.layout in layouts for layouts in fits.values()):
        return _("No table is large enough, or meant, for %(mission)s.") % {
            "mission": isolated(team.tier_version.version.mission)
        }
    if is_planned and not have[team.team.pk]:
        return _("No turn for %(name)s: more teams than places. It comes first next time.") % {"name": isolated(name)}
    return ""


def _of_tables(
    plays: list[DayTeam],
    tables: list[Table],
    fits: dict[int, frozenset[str]],
    planned: list[tuple[int, int | None]],
    used: set[int],
) -> dict[int, str]:
    versions = {t.tier_version.version_id: t.tier_version.version for t in plays if t.tier_version}
    named, said = tables_named(planned), {}
    for table in tables:
        if table.pk in used or fits[table.pk] or not versions:
            continue
        meant = [v for v in versions.values() if {None, table.pk} & named.get(v.mission_id, {None})]
        if not meant:
            said[table.pk] = _("The plan has nothing for %(table)s: it names other tables.") % {
                "table": isolated(table)
            }
        elif not any(large_enough(table, version) for version in meant):
            titles = sorted({str(version.mission) for version in meant})
            said[table.pk] = (
                _("%(table)s is too small for %(mission)s.")
                if len(titles) == 1
                else _("%(table)s is too small for every mission of the day.")
            ) % {"table": isolated(table), "mission": isolated(titles[0])}
    return said


def _as_task(
    plays: list[DayTeam],
    tables: list[Table],
    fits: dict[int, frozenset[str]],
    minutes: dict[int, int],
    slot_minutes: int,
) -> RotaTask:
    teams = tuple(
        RotaTeam(
            key=team.team.pk,
            layout=team.layout,
            past_turns=round(minutes.get(team.team.pk, 0) / slot_minutes),
            robot=team.robot.pk if team.robot else None,
        )
        for team in plays
    )
    return RotaTask(teams, tuple(RotaTable(table.pk, fits[table.pk]) for table in tables), slots=1, most_turns=1)


def _twice(task: RotaTask, standing: list[RotaTurn], present: int) -> dict[int, str]:
    known = {team.key for team in task.teams}
    places = {table.key for table in task.tables}
    plain = {
        turn.pk: PlannedTurn(turn.slot, turn.table_id, turn.team_id, turn.by_hand)
        for turn in standing
        if turn.team_id in known and turn.table_id in places
    }
    turns = list(plain.values())
    said = {pk: why_twice(task, turns, turn) for pk, turn in plain.items() if turn.slot >= present}
    return {pk: words for pk, words in said.items() if words}


def _fewest(
    plays: list[DayTeam], minutes: dict[int, int], have: Counter[int | None], slot_minutes: int
) -> tuple[str, ...]:
    """Who had least of the term, today counted; nobody while all had about the same."""
    had = {t.team.name: round(minutes.get(t.team.pk, 0) / slot_minutes) + have[t.team.pk] for t in plays}
    if not had or max(had.values()) - min(had.values()) < 2:
        return ()
    least = min(had.values())
    return tuple(f"{name} {count}" for name, count in had.items() if count == least)
