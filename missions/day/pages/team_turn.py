"""Where a team stands by today's rota at a moment."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from classroom.models import Team
from missions.day.pages.today import phase_slot
from missions.day.services.plan_rota import clock_of, run_as_is
from missions.day.sessions import nearest_session
from missions.models import RotaTurn


@dataclass(frozen=True)
class TeamTurn:
    """The turn that is on, and when it ends."""

    turn: RotaTurn
    ends: dt.datetime


def team_turn(team: Team, now: dt.datetime) -> TeamTurn | None:
    session = nearest_session(team.club, now)
    if session is None:
        return None
    run = run_as_is(session, now)
    day = clock_of(run)
    slot = phase_slot(run, day, now)
    turn = RotaTurn.objects.on_screen(session).filter(team=team, slot=slot).first()
    return TeamTurn(turn, day.starts(slot + 1)) if turn else None
