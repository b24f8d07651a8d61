"""Robots as the club keeps them: added, rebuilt, given to a team, resting or in repair, with their service notes."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.models import Club, Coach, Robot, RobotAssignment, RobotState, ServiceNote, Spare, Team
from classroom.robots.services.keep_spare import lock_spare, use_spares
from classroom.site.clash.mark import mark_of, refuse_changed
from classroom.site.isolated import isolated

#: What the robot's own form sets.
AS_BUILT = (
    "name",
    "travel_footprint",
    "working_footprint",
    "tool_seconds",
    "wheel_diameter_mm",
    "track_width_mm",
    "speed_mm_s",
    "acceleration_mm_s2",
    "push_speed_mm_s",
    "turn_rate_deg_s",
    "turn_acceleration_deg_s2",
    "settle_s",
    "distance_step_mm",
    "turn_step_deg",
    "min_leg_mm",
    "min_back_off_mm",
    "yaw_sense",
    "yaw_reference",
)


def robot_mark(robot: Robot) -> str:
    """Of a robot as built, read from the database."""
    return mark_of(*(getattr(robot, field) for field in AS_BUILT))


@transaction.atomic
def add_robot(club: Club, coach: Coach, values: dict[str, Any], *, now: dt.datetime) -> Robot:
    robot = Robot.objects.create(club=club, changed_at=now, order=Robot.objects.filter(club=club).count(), **values)
    note_in_audit(club, coach, "added robot", f"robot:{robot.pk}", now=now)
    club.touch()
    return robot


@transaction.atomic
def change_robot(
    robot: Robot, coach: Coach, values: dict[str, Any], *, rebuilt: bool, seen: str | None = None, now: dt.datetime
) -> Robot:
    """``rebuilt`` makes runs and calibrations from before count as old.

    Raises
    ------
    ConflictError
        ``changed_meanwhile``: ``seen`` is not the mark of the robot as it stands.
    """
    robot = Robot.objects.select_for_update(of=("self",)).select_related("club").get(pk=robot.pk)
    refuse_changed(seen, robot_mark(robot), robot.club, f"robot:{robot.pk}", ("changed robot", "rebuilt robot"))
    for field, value in values.items():
        setattr(robot, field, value)
    if rebuilt:
        robot.changed_at = now
    robot.save()
    note_in_audit(robot.club, coach, "rebuilt robot" if rebuilt else "changed robot", f"robot:{robot.pk}", now=now)
    robot.club.touch()
    return robot


@transaction.atomic
def assign_robot(robot: Robot, team: Team | None, coach: Coach, *, now: dt.datetime) -> RobotAssignment | None:
    """Give a robot to a team from today; it leaves the team that has it, and the team's former robot is free again.

    Raises
    ------
    ConflictError
        ``in_repair``: a robot in repair goes to no team.
    InputError
        ``other_club``.
    """
    if team is not None and team.club_id != robot.club_id:
        raise InputError(ClassroomCode.OTHER_CLUB, _("This team is not of the robot's club."))
    if team is not None and robot.state == RobotState.IN_REPAIR:
        raise ConflictError(
            ClassroomCode.IN_REPAIR,
            _("%(name)s is in repair; put it back in service first.") % {"name": isolated(robot.name)},
        )
    today = timezone.localdate(now)
    held = RobotAssignment.objects.filter(to_on=None)
    if team is not None and held.filter(robot=robot, team=team).exists():
        return held.get(robot=robot, team=team)
    ending = held.filter(robot=robot) | (held.filter(team=team) if team else held.none())
    for assignment in ending:
        assignment.to_on = max(today, assignment.from_on)
        assignment.save(update_fields=["to_on"])
    made = RobotAssignment.objects.create(robot=robot, team=team, from_on=today) if team else None
    note_in_audit(robot.club, coach, "gave robot" if team else "took robot back", f"robot:{robot.pk}", now=now)
    robot.club.touch()
    return made


@transaction.atomic
def set_robot_state(robot: Robot, state: str, coach: Coach, *, now: dt.datetime) -> None:
    robot.state = state
    robot.save(update_fields=["state"])
    note_in_audit(robot.club, coach, f"robot {state}", f"robot:{robot.pk}", now=now)
    robot.club.touch()


@transaction.atomic
def note_service(
    robot: Robot,
    coach: Coach,
    *,
    kind: str,
    text: str,
    due_on: dt.date | None,
    spare: Spare | None = None,
    spare_count: int = 0,
    now: dt.datetime,
) -> ServiceNote:
    """With a due date it stays on the list until somebody says that it is done; without one it is done already.

    Raises
    ------
    InputError
        ``other_club``.
    ConflictError
        ``spare_gone``; ``too_few_spares``: done already, and the list has fewer than were used.
    """
    if spare is not None and spare.club_id != robot.club_id:
        raise InputError(ClassroomCode.OTHER_CLUB, _("This spare is not of the robot's club."))
    if spare is not None and lock_spare(spare).retired_at is not None:
        raise ConflictError(
            ClassroomCode.SPARE_GONE, _("%(spare)s has been taken off the list. Choose another.") % {"spare": spare}
        )
    today = timezone.localdate(now)
    note = ServiceNote.objects.create(
        robot=robot,
        kind=kind,
        text=text,
        on=today,
        due_on=due_on,
        done_on=None if due_on else today,
        spare=spare,
        spare_count=max(1, spare_count) if spare else 0,
        by=coach,
    )
    if note.done_on is not None:
        use_spares(note)
    robot.club.touch()
    return note


@transaction.atomic
def finish_service(note: ServiceNote, coach: Coach, *, now: dt.datetime) -> None:
    """Done once, whoever says so again; what it takes comes off the list of spares.

    Raises
    ------
    ConflictError
        ``too_few_spares``.
    """
    note = ServiceNote.objects.select_for_update(of=("self",)).select_related("robot__club", "spare").get(pk=note.pk)
    if note.done_on is not None:
        return
    note.done_on = timezone.localdate(now)
    note.save(update_fields=["done_on"])
    use_spares(note)
    note_in_audit(note.robot.club, coach, "service done", f"robot:{note.robot_id}", now=now)
    note.robot.club.touch()
