"""What a team may change of its own robot: the outline that it has measured."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction

from classroom.models import Robot, Team
from classroom.services.audit import note_in_audit


@transaction.atomic
def reshape_robot(robot: Robot, team: Team, travel: Any, working: Any, *, now: dt.datetime) -> Robot:
    """Courses are checked with the new outline from now on. What it drives like is not touched by its outline."""
    robot.travel_footprint, robot.working_footprint = travel, working
    robot.save(update_fields=["travel_footprint", "working_footprint"])
    note_in_audit(robot.club, team, "measured outline", f"robot:{robot.pk}", now=now)
    robot.club.touch()
    return robot
