"""The rota of a session: solved from the present on, changed by hand, read from rows and written to rows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import asdict
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.models import Session, Table
from classroom.site.isolated import isolated
from missions.day.pages.teams import DayTeam, tables_of, teams_of_day, who_plays
from missions.day.rules.clock import DayClock
from missions.day.rules.phases import Phase, lay_out, runs_among
from missions.day.rules.rota import PlannedTurn, Rota, RotaTable, RotaTask, RotaTeam, even_share
from missions.day.rules.rota_first import first_rota
from missions.day.rules.rota_json import task_to_json
from missions.errors import MissionsCode
from missions.ladder.rules.table_fit import fits_on, shape_of_table
from missions.models import MissionVersion, PlannedMission, RotaTurn, SessionRun

#: A present slot that was planned only now may still be planned better: nobody has walked far yet.
_JUST_PLANNED = dt.timedelta(minutes=1)


def run_of(session: Session, now: dt.datetime) -> SessionRun:
    """How the session is run; begun with the usual settings when nobody has set any."""
    run, _made = SessionRun.objects.get_or_create(session=session, defaults={"changed_at": now})
    run.session = session
    return run


def run_as_is(session: Session, now: dt.datetime) -> SessionRun:
    """As ``run_of`` for a page that only looks: nothing is written."""
    run = SessionRun.objects.filter(session=session).first() or SessionRun(session=session, changed_at=now)
    run.session = session
    return run


def run_read_with(session: Session, now: dt.datetime) -> SessionRun:
    """As ``run_as_is`` of a session that ``sessions_of`` has just read: nothing is asked again."""
    run: SessionRun = getattr(session, "run", None) or SessionRun(session=session, changed_at=now)
    return run


def hold_run(session: Session, now: dt.datetime) -> SessionRun:
    """As ``run_of``, and until the transaction ends nobody else changes how the session is run, its rota or its plan.

    The rota hangs on it too: a free place is no row that could be locked.
    """
    run = SessionRun.objects.select_for_update().get(pk=run_of(session, now).pk)
    run.session = session
    return run


def refuse_away(table: Table) -> None:
    """Nothing is put at a table that is on no page."""
    if table.retired_at is not None:
        raise InputError(
            MissionsCode.TABLE_AWAY,
            _("%(table)s has been put away. Choose another table.") % {"table": isolated(table)},
        )


def phases_of(run: SessionRun) -> list[Phase]:
    """The term's plan of a session, from its planned start, or from when the coach started it."""
    return lay_out(run.session.term.phases, run.clock_from, run.session.ends_at)


def clock_of(run: SessionRun) -> DayClock:
    """The turns at the tables: they fill the phase of the runs."""
    runs = runs_among(phases_of(run))
    return DayClock(runs.starts, runs.ends, run.slot_minutes, runs=run.started_at is not None)


def solve_rota(session: Session, *, now: dt.datetime, solve: Callable[[RotaTask], Rota] = first_rota) -> Rota:
    """Plan the slots that have not begun yet; those behind us and those set by hand stay as they are.

    What was asked is kept with the session, so that a better rota can be looked for while this one stands.

    Raises
    ------
    InputError
        As ``missions.day.rules.rota.check_task``; ``session_over`` and ``session_cancelled``.
    ConflictError
        ``changed_meanwhile``: somebody changed the rota while this one was worked out.
    """
    run = run_of(session, now)
    refuse_closed(run)
    day = clock_of(run)
    rows = list(RotaTurn.objects.filter(session=session))
    first = _first_to_plan(day, rows, now)
    if first >= day.count:
        raise InputError(MissionsCode.NO_SLOTS, _("No slot is left. Make the slots shorter or the session longer."))
    teams = teams_of_day(session)
    task, by_hand = rota_task(session, day, first, teams, tables_of(session), rows, needs_first=run.needs_first)
    rota = solve(task)
    with transaction.atomic():
        held = hold_run(session, now)
        now_rows = list(RotaTurn.objects.select_for_update().filter(session=session))
        if _face(now_rows) != _face(rows) or clock_of(held) != day:
            raise ConflictError(
                ClassroomCode.CHANGED_MEANWHILE, _("Somebody changed the rota in the meantime. Plan again.")
            )
        _write(session, first, rota, teams, by_hand)
        fresh = RotaTurn.objects.filter(session=session)
        wanted = None if rota.is_proven else {"first": first, "task": task_to_json(task), "stands": _stands(fresh)}
        goals = [asdict(goal) for goal in rota.goals]
        SessionRun.objects.filter(pk=run.pk).update(solved_at=now, goals=goals, better_wanted=wanted)
        session.term.club.touch()
    return rota


def better_wanted(run: SessionRun) -> dict[str, Any] | None:
    """What a better rota is to be found for: the task of the rota that stands, unless a hand has changed it since."""
    wanted = run.better_wanted
    if wanted is None or run.stopped_at is not None or run.cancelled_at is not None:
        return None
    return wanted if wanted["stands"] == _stands(RotaTurn.objects.filter(session=run.session)) else None


@transaction.atomic
def take_better(session: Session, wanted: dict[str, Any], rota: Rota, *, now: dt.datetime) -> bool:
    """Put a better rota in place of the one that it was looked for; False where that one stands no more.

    A rota for slots that began some time ago is not taken: people stand where the first one sent them.
    """
    held = hold_run(session, now)
    if held.better_wanted != wanted or better_wanted(held) is None:
        return False
    first = wanted["first"]
    begun = clock_of(held).slot_at(now) - first
    in_time = begun < 0 or (begun == 0 and held.solved_at is not None and now - held.solved_at < _JUST_PLANNED)
    if in_time:
        rows = list(RotaTurn.objects.filter(session=session))
        by_hand = {(row.slot - first, row.table_id): row.pk for row in rows if row.by_hand and row.slot >= first}
        _write(session, first, rota, teams_of_day(session), by_hand)
        held.goals = [asdict(goal) for goal in rota.goals]
    held.better_wanted = None
    held.save(update_fields=["goals", "better_wanted"])
    session.term.club.touch()
    return in_time


def _write(session: Session, first: int, rota: Rota, teams: list[DayTeam], by_hand: dict[tuple[int, int], int]) -> None:
    of_team = {team.team.pk: team for team in teams}
    RotaTurn.objects.filter(session=session, slot__gte=first).exclude(pk__in=by_hand.values()).delete()
    fresh = [turn for turn in rota.turns if (turn.slot, turn.table) not in by_hand]
    RotaTurn.objects.bulk_create(_row(session, first, turn, of_team[turn.team]) for turn in fresh)


def _first_to_plan(day: DayClock, rows: Iterable[RotaTurn], now: dt.datetime) -> int:
    """The next slot; or the present one, when nobody stands anywhere and less than half of it is gone."""
    first = day.first_open(now)
    present = first - 1
    if present >= 0 and not any(row.slot == present for row in rows):
        half = dt.timedelta(minutes=day.minutes) / 2
        if now - day.starts(present) < half and day.slot_at(now) < day.count:
            return present
    return first


def rota_task(
    session: Session,
    day: DayClock,
    first: int,
    teams: list[DayTeam],
    tables: list[Table],
    rows: list[RotaTurn],
    *,
    needs_first: bool,
) -> tuple[RotaTask, dict[tuple[int, int], int]]:
    """The slots from ``first`` on as a task with slots from 0, and the rows set by hand that stay by (slot, table)."""
    set_by_hand = {row.team_id for row in rows if row.by_hand and row.slot >= first and row.team_id}
    playing = {team.team.pk for team in who_plays(teams)}
    here = {t.team.pk: t for t in teams if t.is_here and (t.team.pk in playing or t.team.pk in set_by_hand)}
    behind = [row for row in rows if row.slot < first and row.team_id]
    minutes = RotaTurn.objects.minutes_before(session)
    today: dict[int, int] = {}
    laid: dict[int, str] = {}
    for row in sorted(behind, key=lambda row: row.slot):
        assert row.team_id is not None
        today[row.team_id] = today.get(row.team_id, 0) + 1
        laid[row.table_id] = row.layout
    left = day.count - first
    rota_teams = tuple(
        RotaTeam(
            key=key,
            layout=team.layout,
            past_turns=round(minutes.get(key, 0) / day.minutes) + today.get(key, 0),
            robot=team.robot.pk if team.robot else None,
            first=needs_first and team.needs_look and key not in today,
            slots=_slots_here(team, day, first) if key in playing else _slots_set(key, rows, first),
            just_played=any(row.team_id == key and row.slot == first - 1 for row in behind),
        )
        for key, team in here.items()
    )
    planned = PlannedMission.objects.filter(session=session).values_list("mission", "table")
    fits = what_fits(planned, tables, here.values())
    rota_tables = tuple(RotaTable(table.pk, fits[table.pk], laid.get(table.pk)) for table in tables)
    by_hand, kept_free, stays = _hands(rows, first, day.count, rota_teams, rota_tables)
    earlier = tuple(
        PlannedTurn(row.slot - first, row.table_id, row.team_id)
        for row in rows
        if first <= row.slot < day.count and row.team_id in here
    )
    task = RotaTask(
        teams=rota_teams,
        tables=rota_tables,
        slots=left,
        most_turns=even_share(len(playing), len(tables), left),
        by_hand=by_hand,
        kept_free=kept_free,
        earlier=earlier,
    )
    return task, stays


def _slots_here(team: DayTeam, day: DayClock, first: int) -> frozenset[int] | None:
    if team.late_until is None:
        return None
    return frozenset(range(max(0, day.first_from(team.late_until) - first), day.count - first))


def _slots_set(team: int, rows: list[RotaTurn], first: int) -> frozenset[int]:
    """A team without a robot stands only where a coach has put it."""
    return frozenset(row.slot - first for row in rows if row.by_hand and row.team_id == team and row.slot >= first)


def large_enough(table: Table, version: MissionVersion) -> bool:
    return fits_on(shape_of_table(version), shape_of_table(table))


def tables_named(planned: Iterable[tuple[int, int | None]]) -> dict[int, set[int | None]]:
    """The tables that the plan of a session names for each mission; None among them is any table."""
    named: dict[int, set[int | None]] = {}
    for mission, at_table in planned:
        named.setdefault(mission, set()).add(at_table)
    return named


def what_fits(
    planned: Iterable[tuple[int, int | None]], tables: list[Table], teams: Iterable[DayTeam]
) -> dict[int, frozenset[str]]:
    """The layouts that each table is large enough for and, where the plan names tables, meant for."""
    named = tables_named(planned)
    fits: dict[int, set[str]] = {table.pk: set() for table in tables}
    for team in teams:
        assert team.tier_version is not None
        version = team.tier_version.version
        only = named.get(version.mission_id, {None})
        for table in tables:
            if large_enough(table, version) and (None in only or table.pk in only):
                fits[table.pk].add(team.layout)
    return {pk: frozenset(layouts) for pk, layouts in fits.items()}


def _hands(
    rows: list[RotaTurn], first: int, count: int, teams: tuple[RotaTeam, ...], tables: tuple[RotaTable, ...]
) -> tuple[tuple[PlannedTurn, ...], frozenset[tuple[int, int]], dict[tuple[int, int], int]]:
    """What was set by hand and still can be: teams that are here, tables that still stand."""
    of_team = {team.key: team for team in teams}
    standing = {table.key: table for table in tables}
    turns, free, stays = [], set(), {}
    for row in rows:
        slot = row.slot - first
        if not row.by_hand or not first <= row.slot < count or row.table_id not in standing:
            continue
        if row.team_id is None:
            free.add((row.table_id, slot))
        else:
            team = of_team.get(row.team_id)
            if team is None or not team.here(slot) or not standing[row.table_id].takes(team.layout):
                continue
            turns.append(PlannedTurn(slot, row.table_id, row.team_id, by_hand=True))
        stays[slot, row.table_id] = row.pk
    return tuple(turns), frozenset(free), stays


def _row(session: Session, first: int, turn: PlannedTurn, team: DayTeam) -> RotaTurn:
    return RotaTurn(
        session=session, slot=first + turn.slot, table_id=turn.table, team=team.team, tier=team.tier, layout=team.layout
    )


def _face(rows: Iterable[RotaTurn]) -> set[tuple[int, int, int | None, bool]]:
    return {(row.slot, row.table_id, row.team_id, row.by_hand) for row in rows}


def _stands(rows: Iterable[RotaTurn]) -> list[list[int | bool | None]]:
    return [
        [row.slot, row.table_id, row.team_id, row.by_hand] for row in sorted(rows, key=lambda r: (r.slot, r.table_id))
    ]


def refuse_closed(run: SessionRun) -> None:
    if run.cancelled_at is not None:
        raise InputError(
            MissionsCode.SESSION_CANCELLED, _("This session is cancelled. Bring it back on the Term page first.")
        )
    if run.stopped_at is not None:
        raise InputError(MissionsCode.SESSION_OVER, _("This session has ended. Its rota is kept as it was."))
