"""Where a team stands by today's rota at a moment."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.core.cache import caches
from django.utils import timezone

from classroom.models import Club, Team
from missions.day.pages.today import phase_slot
from missions.day.services.plan_rota import clock_of, run_read_with
from missions.day.sessions import nearest_session
from missions.models import RotaTurn

#: The day's first session may begin without anybody's doing.
MARK_KEPT = dt.timedelta(seconds=30)


@dataclass(frozen=True)
class TeamTurn:
    """A turn, and from when until when it is."""

    turn: RotaTurn
    starts: dt.datetime
    ends: dt.datetime


def team_turn(team: Team, now: dt.datetime) -> TeamTurn | None:
    """The turn that is on."""
    return team_turns(team, now)[0]


def turn_mark(team: Team, now: dt.datetime) -> str:
    """Which turn is on, in short; empty between turns.

    Many tablets ask again and again: the database is asked once for a club, when the rota may have changed or a slot is over.
    """
    key = f"turns:{team.club.pk}:{team.club.news_version}"
    kept: tuple[dt.datetime, dt.datetime, dict[int, str]] | None = caches["here"].get(key)
    if kept is None or not kept[0] <= now < kept[1]:
        kept = (now, *_marks_of(team.club, now))
        caches["here"].set(key, kept, MARK_KEPT.total_seconds())
    return kept[2].get(team.pk, "")


def _marks_of(club: Club, now: dt.datetime) -> tuple[dt.datetime, dict[int, str]]:
    """Until when they hold, and by team those of the turns that are on."""
    latest = now + MARK_KEPT
    session = nearest_session(club, now)
    if session is None:
        return latest, {}
    run = run_read_with(session, now)
    day = clock_of(run)
    slot = phase_slot(run, day, now)
    changes = day.starts(slot + 1)
    on = RotaTurn.objects.filter(session=session, slot=slot, team__isnull=False).values_list(
        "team", "pk", "table", "tier"
    )
    marks = {team: f"{turn} {table} {tier} {day.starts(slot)} {changes}" for team, turn, table, tier in on}
    return min(latest, changes) if changes > now else latest, marks


def team_turns(team: Team, now: dt.datetime) -> tuple[TeamTurn | None, TeamTurn | None]:
    """The turn that is on, and the next one of this day."""
    session = nearest_session(team.club, now)
    if session is None:
        return None, None
    run = run_read_with(session, now)
    day = clock_of(run)
    slot = phase_slot(run, day, now)
    ahead = (
        RotaTurn.objects.on_screen(session)
        .select_related("table")
        .filter(team=team, slot__gte=slot)
        .order_by("slot")[:2]
    )
    turns = [TeamTurn(turn, day.starts(turn.slot), day.starts(turn.slot + 1)) for turn in ahead]
    on = next((turn for turn in turns if turn.turn.slot == slot), None)
    later = next((turn for turn in turns if turn is not on), None)
    if later is not None and timezone.localdate(later.starts) != timezone.localdate(now):
        later = None
    return on, later
