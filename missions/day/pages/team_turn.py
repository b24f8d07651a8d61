"""Where a team stands by today's rota at a moment."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.core.cache import caches
from django.utils import timezone

from classroom.models import Team
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
    """Which turn is on, in short. Many tablets ask again and again: the database is, when the rota may have changed or a slot is over."""
    key = f"turn:{team.pk}:{team.club.news_version}"
    kept: tuple[dt.datetime, dt.datetime, str] | None = caches["here"].get(key)
    if kept is not None and kept[0] <= now < kept[1]:
        return kept[2]
    on, later = team_turns(team, now)
    moments = [now + MARK_KEPT, *([on.ends] if on else []), *([later.starts] if later and later.starts > now else [])]
    mark = f"{on.turn.pk} {on.turn.table_id} {on.turn.tier_id} {on.starts} {on.ends}" if on else ""
    caches["here"].set(key, (now, min(moments), mark), MARK_KEPT.total_seconds())
    return mark


def team_turns(team: Team, now: dt.datetime) -> tuple[TeamTurn | None, TeamTurn | None]:
    """The turn that is on, and the next one of this day."""
    session = nearest_session(team.club, now)
    if session is None:
        return None, None
    run = run_read_with(session, now)
    day = clock_of(run)
    slot = phase_slot(run, day, now)
    ahead = RotaTurn.objects.on_screen(session).filter(team=team, slot__gte=slot).order_by("slot")[:2]
    turns = [TeamTurn(turn, day.starts(turn.slot), day.starts(turn.slot + 1)) for turn in ahead]
    on = next((turn for turn in turns if turn.turn.slot == slot), None)
    later = next((turn for turn in turns if turn is not on), None)
    if later is not None and timezone.localdate(later.starts) != timezone.localdate(now):
        later = None
    return on, later
