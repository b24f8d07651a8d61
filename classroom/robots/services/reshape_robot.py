"""What a team may change of its own robot: the outline that it has measured."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError
from classroom.models import Robot, Team


@transaction.atomic
def reshape_robot(robot: Robot, team: Team, travel: Any, working: Any, *, now: dt.datetime) -> dict[str, Any]:
    """Courses are checked with the new outline from now on. What it drives like is not touched by its outline.

    Returns
    -------
    dict
        What it takes to undo it, as plain values: see ``undo_reshape``.
    """
    stands = Robot.objects.select_for_update(of=("self",)).get(pk=robot.pk)
    before = [stands.travel_footprint, stands.working_footprint]
    _set_outline(stands, team, travel, working, "measured outline", now)
    stands.refresh_from_db(fields=["travel_footprint", "working_footprint"])
    return {"robot": stands.pk, "before": before, "after": [stands.travel_footprint, stands.working_footprint]}


@transaction.atomic
def undo_reshape(robot: Robot, team: Team, undo: dict[str, Any] | None, *, now: dt.datetime) -> None:
    """Put the outline back that the team has just changed.

    Raises
    ------
    ConflictError
        ``changed_meanwhile`` when there is nothing to put back, or somebody has changed the outline since.
    """
    stands = Robot.objects.select_for_update(of=("self",)).get(pk=robot.pk)
    if not can_undo(stands, undo):
        raise ConflictError(
            ClassroomCode.CHANGED_MEANWHILE, _("The outline has been changed since. Look at it, and measure again.")
        )
    assert undo is not None, "can_undo has looked"
    travel, working = undo["before"]
    _set_outline(stands, team, travel, working, "put outline back", now)


def can_undo(robot: Robot, undo: dict[str, Any] | None) -> bool:
    """Whether the outline is still the one that this would undo."""
    stands = [robot.travel_footprint, robot.working_footprint]
    return undo is not None and undo["robot"] == robot.pk and undo["after"] == stands


def _set_outline(robot: Robot, team: Team, travel: Any, working: Any, verb: str, now: dt.datetime) -> None:
    robot.travel_footprint, robot.working_footprint = travel, working
    robot.save(update_fields=["travel_footprint", "working_footprint"])
    note_in_audit(robot.club, team, verb, f"robot:{robot.pk}", now=now)
    robot.club.touch()
