"""A team says whether it tries the course that its coach shows it."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.errors import ConflictError, InputError
from planning.errors import PlanningCode
from planning.models import Course, TeamAnswer


@transaction.atomic
def answer_course(course: Course, answer: str, *, now: dt.datetime) -> None:
    """Kept for the coach to read; saying the other thing later takes its place.

    Raises
    ------
    InputError
        ``not_an_answer``.
    ConflictError
        ``not_shown``: the team's own, or the coach has taken it back.
    """
    if answer not in (TeamAnswer.TRY, TeamAnswer.KEEP):
        raise InputError(PlanningCode.NOT_AN_ANSWER, _("Tap one of the two answers."))
    held = Course.objects.select_for_update().get(pk=course.pk)
    if held.shown_to_team_at is None:
        raise ConflictError(PlanningCode.NOT_SHOWN, _("Your coach does not show this plan any more."))
    course.answer, course.answered_at = answer, now
    course.save(update_fields=["answer", "answered_at"])
    course.team.club.touch()
