"""A coach shows one of the planner's courses to its team, or takes it back."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import InputError
from classroom.models import Coach
from planning.courses.pages.card import card_of
from planning.errors import PlanningCode
from planning.models import Course, Origin, TeamAnswer


@transaction.atomic
def show_course(course: Course, coach: Coach, *, now: dt.datetime) -> None:
    """The team sees it from now on; showing it twice changes nothing.

    Raises
    ------
    InputError
        ``own_course`` (the team's own it sees anyway) or ``not_clear`` (with the robot's numbers of today it touches).
    """
    if course.origin != Origin.PLANNER:
        raise InputError(PlanningCode.OWN_COURSE, _("This is the team's own plan; it sees it already."))
    if not card_of(course).check.clear:
        raise InputError(
            PlanningCode.NOT_CLEAR,
            _("With the robot's numbers of today this course touches. Ask for a new one instead."),
        )
    if course.shown_to_team_at is None:
        _set(course, coach, now)
        note_in_audit(coach.club, coach, "showed course", f"course:{course.pk}", now=now)


@transaction.atomic
def take_back_course(course: Course, coach: Coach, *, now: dt.datetime) -> None:
    """The team no longer sees it; runs that it made with it keep their number."""
    if course.origin == Origin.PLANNER and course.shown_to_team_at is not None:
        _set(course, None, None)
        note_in_audit(coach.club, coach, "took back course", f"course:{course.pk}", now=now)


def _set(course: Course, coach: Coach | None, at: dt.datetime | None) -> None:
    course.shown_to_team_at, course.shown_by = at, coach
    course.answer, course.answered_at = TeamAnswer.NONE, None
    course.save(update_fields=["shown_to_team_at", "shown_by", "answer", "answered_at"])
    course.team.club.touch()
