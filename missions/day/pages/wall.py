"""Today for the wall, read from six metres: who is at which table now and next. No child, no run, no order of merit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.models import SafetyCard, Session
from classroom.site.isolated import isolated
from classroom.site.tags import in_sentence
from classroom.site.wall_names import letters_of_longest_word
from missions.day.pages.teams import DayTeam, tables_of, teams_of_day, who_plays
from missions.day.pages.today import (
    TablePlace,
    is_closed,
    next_turn,
    parts_now,
    phase_of,
    phase_slot,
    slot_rows,
    table_now,
)
from missions.day.services.plan_rota import clock_of
from missions.day.sessions import sessions_of
from missions.models import RotaTurn, SessionRun

#: So many letters of the longest word of a card's names, with the class (wall.css) that says how wide the card is.
NAME_ROOMS = ((8, "usual"), (12, "long"), (19, "longer"))


@dataclass(frozen=True)
class WallPlace:
    """A team at a table. ``mission`` is empty while nothing is published for it."""

    team: str
    robot: str
    mission: str


@dataclass(frozen=True)
class WallTable:
    name: str
    now: WallPlace | None
    next: WallPlace | None
    next_at: str
    lay_anew: bool

    @property
    def room(self) -> str:
        return _room([self.name, *(place.team for place in (self.now, self.next) if place)])


@dataclass(frozen=True)
class WallLater:
    """A team that is at no table now and is not the next at one."""

    team: str
    at: str
    table: str

    @property
    def room(self) -> str:
        return _room([self.team, self.table])


def _room(names: Sequence[str]) -> str:
    letters = letters_of_longest_word(names)
    return next((room for most, room in NAME_ROOMS if letters <= most), "longest")


def wall_of(session: Session, run: SessionRun, cards: Sequence[SafetyCard], now: dt.datetime) -> dict[str, Any]:
    """Plain words only, so that nothing of a child can get onto the wall."""
    day = clock_of(run)
    teams = teams_of_day(session)
    tables = tables_of(session)
    turns = list(RotaTurn.objects.on_screen(session))
    rows = slot_rows(day, tables, turns, {team.team.pk: team for team in teams}, phase_slot(run, day, now))
    slot = next((row for row in rows if row.state == "now"), None)
    at_tables = [table_now(table, column, rows) for column, table in enumerate(tables)]
    shown = {_team_at(place) for at in at_tables for place in (at.now, at.next)}
    plays = {team.team.pk for team in who_plays(teams)}
    ahead = {team.team.pk: next_turn(team, rows) for team in teams if team.is_here and team.team.pk not in shown}
    later = [team for team in teams if team.team.pk in ahead and (ahead[team.team.pk] or team.team.pk in plays)]
    turn_number = slot.number if slot else 0
    return {
        "session": session,
        "phase": phase_of(run, now),
        "is_closed": is_closed(run, now),
        "overdue": run.started_at is None and now >= session.starts_at,
        "part": parts_now(run, now),
        "other_day": timezone.localdate(session.starts_at) != timezone.localdate(now),
        "clock": day,
        "slot": slot,
        "next_at": _next_session(session, run, now),
        "slot_ends": day.starts(day.slot_at(now) + 1),
        "turn_ends_at": _clock(day.starts(day.slot_at(now) + 1)) if slot else "",
        "tables": [
            WallTable(
                at.table.name,
                _wall_place(at.now),
                _wall_place(at.next),
                _clock(at.next_starts),
                bool(at.next and at.next.relay),
            )
            for at in at_tables
        ],
        "later": [_later(team, ahead[team.team.pk]) for team in later],
        "caution": cards[turn_number % len(cards)] if cards else None,
    }


def _next_session(session: Session, run: SessionRun, now: dt.datetime) -> dt.datetime | None:
    """When the club meets again; asked only once this session is over."""
    if not is_closed(run, now):
        return None
    coming = sessions_of(session.term.club).filter(starts_at__gt=now).order_by("starts_at")
    return coming.values_list("starts_at", flat=True).first()


def _team_at(place: TablePlace | None) -> int | None:
    return place.turn.team_id if place and place.turn else None


def _wall_place(place: TablePlace | None) -> WallPlace | None:
    if place is None or place.turn is None or place.turn.team is None:
        return None
    tier = place.turn.tier
    robot = place.team.robot.name if place.team and place.team.robot else ""
    return WallPlace(
        place.turn.team.name,
        robot,
        _("%(mission)s, %(tier)s") % {"mission": isolated(tier.mission.title), "tier": isolated(in_sentence(tier.name))}
        if tier
        else "",
    )


def _later(team: DayTeam, row: Any) -> WallLater:
    place = next((p for p in row.places if _team_at(p) == team.team.pk), None) if row else None
    return WallLater(team.team.name, _clock(row.starts) if place else "", place.table.name if place else "")


def _clock(moment: dt.datetime | None) -> str:
    return f"{timezone.localtime(moment):%H:%M}" if moment else ""
