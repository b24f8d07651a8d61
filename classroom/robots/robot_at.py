"""Which session is on at a moment, and which robot a team has then: one lent for it, else its own."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from django.db.models import Q

from classroom.models import Robot, RobotAssignment, RobotLoan, Session, Team


def session_at(team: Team, at: dt.datetime) -> Session | None:
    """The session on that day in the club's time zone; the one that began last, of two."""
    zone = ZoneInfo(team.club.time_zone)
    midnight = dt.datetime.combine(at.astimezone(zone).date(), dt.time(), zone)
    today = Session.objects.filter(
        term__club=team.club_id, starts_at__gte=midnight, starts_at__lt=midnight + dt.timedelta(days=1)
    )
    found = list(today.order_by("starts_at"))
    begun = [session for session in found if session.starts_at <= at]
    return begun[-1] if begun else found[0] if found else None


def robot_at(team: Team, at: dt.datetime) -> Robot | None:
    """None where the records have none."""
    return robot_in(team, session_at(team, at), at)


def robot_in(team: Team, session: Session | None, at: dt.datetime) -> Robot | None:
    """As ``robot_at``, with the session known."""
    if session is not None:
        loan = RobotLoan.objects.select_related("robot").filter(team=team, session=session).first()
        if loan is not None:
            return loan.robot
    day = at.astimezone(ZoneInfo(team.club.time_zone)).date()
    held = RobotAssignment.objects.select_related("robot").filter(
        Q(to_on=None) | Q(to_on__gte=day), team=team, from_on__lte=day
    )
    assignment = held.order_by("-from_on", "-pk").first()
    return assignment.robot if assignment else None
