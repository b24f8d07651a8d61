"""What was so when a run was made: the session of the day, the team's robot, its calibration in force."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from django.db.models import Q

from classroom.models import Calibration, Robot, RobotAssignment, Session, Team
from missions.models import TeamDay


def context_of_run(team: Team, at: dt.datetime) -> tuple[Session | None, Robot | None, Calibration | None]:
    """Each is None where the records have none."""
    session = _session_of(team, at)
    robot = _lent_robot(team, session) or _robot_of(team, at)
    return session, robot, _calibration_of(robot, at)


def _session_of(team: Team, at: dt.datetime) -> Session | None:
    """The session on the run's own day in the club's time zone; the one that began last, of two."""
    zone = ZoneInfo(team.club.time_zone)
    midnight = dt.datetime.combine(at.astimezone(zone).date(), dt.time(), zone)
    today = Session.objects.filter(
        term__club=team.club_id, starts_at__gte=midnight, starts_at__lt=midnight + dt.timedelta(days=1)
    )
    found = list(today.order_by("starts_at"))
    begun = [session for session in found if session.starts_at <= at]
    return begun[-1] if begun else found[0] if found else None


def _lent_robot(team: Team, session: Session | None) -> Robot | None:
    """The robot that the team has for this session only."""
    if session is None:
        return None
    day = TeamDay.objects.select_related("robot").filter(team=team, session=session).exclude(robot=None).first()
    return day.robot if day else None


def _robot_of(team: Team, at: dt.datetime) -> Robot | None:
    day = at.astimezone(ZoneInfo(team.club.time_zone)).date()
    held = RobotAssignment.objects.select_related("robot").filter(
        Q(to_on=None) | Q(to_on__gte=day), team=team, from_on__lte=day
    )
    assignment = held.order_by("-from_on", "-pk").first()
    return assignment.robot if assignment else None


def _calibration_of(robot: Robot | None, at: dt.datetime) -> Calibration | None:
    if robot is None:
        return None
    return Calibration.objects.filter(robot=robot, measured_at__lte=at).order_by("-measured_at", "-pk").first()
