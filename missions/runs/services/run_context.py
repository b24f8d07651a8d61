"""What was so when a run was made: the session of the day, the team's robot, its calibration in force."""

from __future__ import annotations

import datetime as dt

from classroom.models import Calibration, Robot, Session, Team
from classroom.robots.robot_at import robots_in_hand, session_at


def context_of_run(team: Team, at: dt.datetime) -> tuple[Session | None, Robot | None, Calibration | None]:
    """Each is None where the records have none."""
    session = session_at(team.club, at)
    held = robots_in_hand(team.club, session, at, team=team).get(team.pk)
    robot = held.robot if held else None
    return session, robot, _calibration_of(robot, at)


def _calibration_of(robot: Robot | None, at: dt.datetime) -> Calibration | None:
    if robot is None:
        return None
    return Calibration.objects.filter(robot=robot, measured_at__lte=at).order_by("-measured_at", "-pk").first()
