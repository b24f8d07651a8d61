"""The club's robots with who has each and what is due, for the pages that list them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils import timezone

from classroom.models import Club, Robot, Team
from classroom.robots.rules.due import robot_due


@dataclass(frozen=True)
class RobotLine:
    robot: Robot
    team: Team | None
    due: list[str]


def robot_lines(club: Club, today: dt.date) -> list[RobotLine]:
    rows = Robot.objects.filter(club=club).with_last_calibration().with_team().with_open_notes()
    return [robot_line(robot, today) for robot in rows]


def robot_line(robot: Robot, today: dt.date) -> RobotLine:
    """``robot`` with its last calibration, team and open notes."""
    last = robot.last_calibrated_at  # type: ignore[attr-defined]
    due = robot_due(
        today,
        calibrated_on=timezone.localdate(last) if last else None,
        rebuilt_on=timezone.localdate(robot.changed_at),
        notes=[(note.text, note.due_on) for note in robot.open_notes],  # type: ignore[attr-defined]
    )
    current = robot.current  # type: ignore[attr-defined]
    return RobotLine(robot, current[0].team if current else None, due)
