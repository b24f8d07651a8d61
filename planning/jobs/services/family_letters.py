"""Families' e-mails as jobs. The letter's row says whether it is due; a job's says only which letter and which try."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext_noop

from classroom.families.letters import due_letters, mark_lost_letters, send_letter
from planning.jobs.progress import JobControl
from planning.jobs.services.ask_for_job import ask_for_job

FAMILY_LETTER = "family_letter"
#: Asked for in one sweep at most, so that a sweep stays short.
MOST_ASKED = 50


def carry_letter(job_input: dict[str, Any], progress: JobControl) -> dict[str, Any]:
    """Hand it over, once. What came of it stands in the letter's own row; trying again is another job, later."""
    progress.tell(0.1, gettext_noop("Handing it to the mail server"))
    return {"state": send_letter(job_input["letter"], now=timezone.now())}


def ask_for_letters(*, now: dt.datetime) -> int:
    """A job for each letter that is due: the sweep asks, so that a page only writes a row and never waits for a queue."""
    mark_lost_letters(now)
    due = list(due_letters(now)[:MOST_ASKED])
    for letter in due:
        ask_for_job(letter.member.club, FAMILY_LETTER, {"letter": letter.pk, "try": letter.tries}, now=now)
    return len(due)
