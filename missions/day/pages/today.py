"""What Today shows, as plain values: the tables now and next, the rota by slots, the robots. The same queries always."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from django.db.models import Count, Prefetch
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.models import Robot, RobotState, ServiceNote, Session, Spare, Table
from classroom.site.isolated import isolated
from classroom.site.listed import strung
from missions.day.pages.teams import DayTeam, tables_of, teams_of_day
from missions.day.pages.warnings import rota_warnings
from missions.day.rules.clock import DayClock
from missions.day.rules.phases import Phase, phase_at
from missions.day.services.plan_rota import clock_of, phases_of
from missions.models import Attempt, PlannedMission, QuickNote, RotaTurn, SessionRun

#: Of more robots only those that want something stand there at once.
FEW_ROBOTS = 12

#: Phases of a session that was held and is done.
OVER = ("over", "past")


@dataclass(frozen=True)
class TablePlace:
    """A table in a slot. ``relay`` says that the table has to be laid anew before it, ``twice`` why a team stands there twice
    in a row. Plain attributes, since a page has a hundred.
    """

    table: Table
    turn: RotaTurn | None
    relay: bool
    team: DayTeam | None = None
    name: str = ""
    by_hand: bool = False
    twice: str = ""


@dataclass(frozen=True)
class SlotRow:
    number: int
    starts: dt.datetime
    state: str
    places: tuple[TablePlace, ...]

    @property
    def is_open(self) -> bool:
        return self.state != "over"

    @property
    def told(self) -> tuple[object, ...]:
        """All that a line of the rota shows, as plain values."""
        places = [(one.name, one.relay, one.by_hand, one.twice, one.turn is None) for one in self.places]
        return self.starts, self.state, places


@dataclass(frozen=True)
class TableNow:
    """One table: who is there, who comes next and when."""

    table: Table
    now: TablePlace | None
    next: TablePlace | None
    next_starts: dt.datetime | None


@dataclass(frozen=True)
class RobotAtHand:
    robot: Robot
    name: str
    state: str
    teams: tuple[str, ...]
    due: tuple[ServiceNote, ...]
    coming: tuple[ServiceNote, ...]

    @property
    def teams_together(self) -> str:
        return strung([isolated(team) for team in self.teams])

    @property
    def wants_something(self) -> bool:
        return bool(self.due or self.coming)

    @property
    def is_free(self) -> bool:
        return not self.teams and self.robot.state == RobotState.IN_SERVICE


def day_of(session: Session, run: SessionRun, now: dt.datetime) -> dict[str, Any]:
    """All of the page but its forms."""
    day = clock_of(run)
    planned = list(PlannedMission.objects.filter(session=session).select_related("mission", "table"))
    teams = teams_of_day(session, [plan.mission_id for plan in planned])
    tables = tables_of(session)
    present = phase_slot(run, day, now)
    turns = list(RotaTurn.objects.on_screen(session))
    runs = dict(
        Attempt.objects.standing().filter(session=session).order_by().values_list("team").annotate(n=Count("pk"))
    )
    here = [team for team in teams if team.is_here]
    robots = robots_at_hand(session, teams)
    wanting = sorted((robot for robot in robots if robot.wants_something), key=lambda robot: not robot.due)
    are_few, quiet = len(robots) <= FEW_ROBOTS, [robot for robot in robots if not robot.wants_something]
    behind = [] if are_few else quiet
    notes = list(QuickNote.objects.on_screen(session)[:30])
    warnings = rota_warnings(
        teams,
        tables,
        turns,
        planned,
        RotaTurn.objects.minutes_before(session),
        slot_minutes=run.slot_minutes,
        present=max(0, present),
    )
    rows = slot_rows(day, tables, turns, {team.team.pk: team for team in teams}, present, warnings.twice)
    return {
        "session": session,
        "run": run,
        "phase": phase_of(run, now),
        "is_over": phase_of(run, now) in OVER,
        "overdue": run.started_at is None and now >= session.starts_at,
        "part": parts_now(run, now),
        "clock": day,
        "slot": next((row for row in rows if row.state == "now"), None),
        "slot_ends": day.starts(day.slot_at(now) + 1),
        "rows": rows,
        "turns_told": ([table.name for table in tables], [row.told for row in rows if row.is_open]),
        "tables": [table_now(table, column, rows) for column, table in enumerate(tables)],
        "teams": teams,
        "here": here,
        "children_here": sum(child.present is True for team in teams for child in team.children),
        "unmarked": sum(child.present is None for team in teams if not team.away for child in team.children),
        "waiting": [team for team in here if next_turn(team, rows) is None and team.team.pk not in warnings.teams],
        "runs": runs,
        "runs_in_all": sum(runs.values()),
        "robots": robots,
        "robots_first": [*wanting, *quiet] if are_few else wanting,
        "robots_behind": behind,
        "lendable": [(one.robot.pk, one.name, one.teams) for one in robots if one.state == RobotState.IN_SERVICE],
        "robots_told": [(robot.name, robot.state, robot.teams) for robot in behind],
        "to_buy": list(Spare.objects.filter(club=session.term.club_id).to_buy()),
        "planned": planned,
        "warnings": warnings,
        "twice": [(row, place) for row in rows for place in row.places if place.twice],
        "better_wanted": run.better_wanted is not None and not is_closed(run, now),
        "notes": notes,
        "notes_told": [(note.pk, note.at, str(note.by or ""), str(note.team or ""), note.text) for note in notes],
        "relayings": sum(place.relay for row in rows for place in row.places),
        "by_hand": sum(turn.by_hand for turn in turns),
        "has_rota": any(turn.team_id for turn in turns),
        "has_turns_ahead": any(row.is_open for row in rows),
        "goals": goal_words(run.goals),
    }


def phase_of(run: SessionRun, now: dt.datetime) -> str:
    """``cancelled``, ``over``, ``on``, ``due`` (its time has come, not started), ``later`` or ``past``."""
    if run.cancelled_at is not None:
        return "cancelled"
    if run.stopped_at is not None:
        return "over"
    if now >= run.session.ends_at:
        return "past"
    if run.started_at is not None:
        return "on"
    return "due" if now >= run.session.starts_at - dt.timedelta(minutes=30) else "later"


def is_closed(run: SessionRun, now: dt.datetime) -> bool:
    """Over, past or cancelled: no turn of it is on or to come."""
    return phase_of(run, now) in (*OVER, "cancelled")


@dataclass(frozen=True)
class PartsNow:
    """The parts of the session that the coach set for the term: the one that is on, the next, and all of them."""

    now: Phase | None
    next: Phase | None
    all: tuple[Phase, ...]


def parts_now(run: SessionRun, now: dt.datetime) -> PartsNow | None:
    """None while the term has no plan of a session, or the session is over."""
    if not run.session.term.phases or is_closed(run, now):
        return None
    phases = phases_of(run)
    here = phase_at(phases, now) if run.started_at is not None else (None, phases[0])
    return PartsNow(*here, tuple(phases))


def moments_of(run: SessionRun, now: dt.datetime) -> tuple[object, ...]:
    """What changes on the pages of a session by the clock alone."""
    part = parts_now(run, now)
    overdue = run.started_at is None and now >= run.session.starts_at
    here = (part.now.starts.isoformat() if part.now else "") if part else None
    return phase_slot(run, clock_of(run), now), phase_of(run, now), here, overdue


def phase_slot(run: SessionRun, day: DayClock, now: dt.datetime) -> int:
    """The present slot, as far as the session is on."""
    return day.count if is_closed(run, now) else day.slot_at(now)


def slot_rows(
    day: DayClock,
    tables: list[Table],
    turns: list[RotaTurn],
    teams: dict[int, DayTeam],
    present: int,
    twice: Mapping[int, str] = MappingProxyType({}),
) -> list[SlotRow]:
    at = {(turn.slot, turn.table_id): turn for turn in turns}
    laid: dict[int, str] = {}
    rows = []
    for slot in range(day.count):
        places = []
        for table in tables:
            turn = at.get((slot, table.pk))
            layout = turn.layout if turn and turn.team_id else ""
            relay = bool(layout and laid.get(table.pk) and laid[table.pk] != layout)
            if layout:
                laid[table.pk] = layout
            if turn is None or turn.team is None:
                places.append(TablePlace(table, turn, relay))
                continue
            team = teams.get(turn.team.pk)
            places.append(TablePlace(table, turn, relay, team, turn.team.name, turn.by_hand, twice.get(turn.pk, "")))
        state = "over" if slot < present else "now" if slot == present else "next" if slot == present + 1 else "later"
        rows.append(SlotRow(slot, day.starts(slot), state, tuple(places)))
    return rows


def table_now(table: Table, column: int, rows: list[SlotRow]) -> TableNow:
    now = next((row.places[column] for row in rows if row.state == "now"), None)
    upcoming = [row for row in rows if row.state in ("next", "later")]
    soon = next((row for row in upcoming if row.places[column].turn is not None), None)
    return TableNow(table, now, soon.places[column] if soon else None, soon.starts if soon else None)


def next_turn(team: DayTeam, rows: list[SlotRow]) -> SlotRow | None:
    ahead = (row for row in rows if row.is_open)
    return next((r for r in ahead if any(p.turn and p.turn.team_id == team.team.pk for p in r.places)), None)


def robots_at_hand(session: Session, teams: list[DayTeam]) -> list[RobotAtHand]:
    """Every robot of the club with who has it today and what is due by the day of the session."""
    day = timezone.localdate(session.starts_at)
    waiting = ServiceNote.objects.filter(done_on=None).order_by("due_on", "pk")
    robots = Robot.objects.filter(club=session.term.club_id)
    robots = robots.prefetch_related(Prefetch("service_notes", waiting, to_attr="open_notes"))
    with_team: dict[int, list[str]] = {}
    for team in teams:
        if team.robot is not None:
            with_team.setdefault(team.robot.pk, []).append(team.team.name)
    return [
        RobotAtHand(
            robot=robot,
            name=robot.name,
            state=robot.state,
            teams=tuple(with_team.get(robot.pk, ())),
            due=tuple(note for note in robot.open_notes if note.due_on is not None and note.due_on <= day),
            coming=tuple(note for note in robot.open_notes if note.due_on is not None and note.due_on > day),
        )
        for robot in robots
    ]


def goal_words(goals: list[dict[str, Any]]) -> list[str]:
    """What the last plan reached, in a coach's words, with what is not proven about it."""
    none = {
        "empty": _("No place is empty"),
        "relayings": _("No table is laid anew"),
        "back_to_back": _("Every team has a turn to think in between"),
    }
    said = []
    for goal in goals:
        if goal.get("name") not in none:
            continue
        value, bound = goal["value"], goal["bound"]
        text = _goal_reached(goal["name"], value) if value else none[goal["name"]]
        if value > bound > 0:
            text = _("%(reached)s (at least %(bound)s by proof)") % {"reached": text, "bound": bound}
        elif value == bound > 0:
            text = _("%(reached)s, the fewest there can be") % {"reached": text}
        said.append(text)
    return said


def _goal_reached(name: str, value: int) -> str:
    sentences = {
        "empty": ngettext("%(count)s place is empty", "%(count)s places are empty", value),
        "relayings": ngettext("%(count)s table is laid anew once", "Tables are laid anew %(count)s times", value),
        "back_to_back": ngettext(
            "%(count)s turn follows another of the same team", "%(count)s turns follow another of the same team", value
        ),
    }
    return sentences[name] % {"count": value}


def table_minutes(session: Session, turns: list[RotaTurn], minutes: int) -> dict[int, int]:
    """Each team's table time in the term, this session's rota included."""
    before = RotaTurn.objects.minutes_before(session)
    today = Counter(turn.team_id for turn in turns if turn.team_id)
    return {key: before.get(key, 0) + today[key] * minutes for key in set(before) | set(today)}
