"""A robot gets its printed mark, or loses it."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.club.marks.numbers import MOST_ROBOTS
from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, InputError
from classroom.models import Club, Coach, Robot


@transaction.atomic
def fix_mark(
    robot: Robot, coach: Coach, *, height_mm: float, ahead_mm: float, left_mm: float, now: dt.datetime
) -> Robot:
    """Where the mark is on the robot. Its number, once given, stays: it is printed.

    Raises
    ------
    InputError
        ``out_of_marks``.
    """
    club = Club.objects.select_for_update().get(pk=robot.club_id)
    robot = Robot.objects.select_for_update().get(pk=robot.pk)
    if robot.top_mark is None:
        robot.top_mark = _free_number(club)
    robot.top_mark_height_mm, robot.top_mark_ahead_mm, robot.top_mark_left_mm = height_mm, ahead_mm, left_mm
    robot.save(update_fields=["top_mark", "top_mark_height_mm", "top_mark_ahead_mm", "top_mark_left_mm"])
    note_in_audit(club, coach, "said where its mark is", f"robot:{robot.pk}", now=now)
    return robot


@transaction.atomic
def take_mark_off(robot: Robot, coach: Coach, *, now: dt.datetime) -> None:
    """The number is free for another robot."""
    Robot.objects.filter(pk=robot.pk).update(top_mark=None)
    note_in_audit(coach.club, coach, "took its mark off", f"robot:{robot.pk}", now=now)


def _free_number(club: Club) -> int:
    taken = set(Robot.objects.filter(club=club).exclude(top_mark=None).values_list("top_mark", flat=True))
    free = next((number for number in range(1, MOST_ROBOTS + 1) if number not in taken), None)
    if free is None:
        raise InputError(
            ClassroomCode.OUT_OF_MARKS,
            _("There are marks for %(most)s robots; take one off a robot that rests.") % {"most": MOST_ROBOTS},
        )
    return free
