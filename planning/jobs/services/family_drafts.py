"""Drafts of families' words as a job, for a whole club at once: what is drafted goes to the words' own rows."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext_noop

from classroom.models import Club, Coach
from missions.family.drafts import draft_due
from motion.errors import CancelledError, MotionCode
from planning.jobs.progress import JobControl
from planning.jobs.services.ask_for_job import ask_for_job
from planning.models import Job

FAMILY_DRAFTS = "family_drafts"


def make_drafts(job_input: dict[str, Any], progress: JobControl) -> dict[str, Any]:
    """Draft for every child that is due. Asked to stop, it leaves what it has made."""

    def goes_on(fraction: float) -> bool:
        progress.tell(fraction, gettext_noop("Drafting words for families"))
        return not progress.out_of_time()

    club = Club.objects.get(pk=job_input["club"])
    asked_at = dt.datetime.fromisoformat(job_input["asked_at"])
    made = draft_due(club, asked_at, now=timezone.now(), goes_on=goes_on)
    if progress.stopped():
        raise CancelledError(MotionCode.CANCELLED, "Stopped.")
    return {"drafted": made}


def ask_for_drafts(coach: Coach, *, now: dt.datetime) -> Job:
    asked = {"club": coach.club_id, "asked_at": now.isoformat()}
    return ask_for_job(coach.club, FAMILY_DRAFTS, asked, asked_by=coach, now=now)
