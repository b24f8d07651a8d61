"""Stopping a job that somebody no longer wants."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext_noop

from planning.models import Job, JobState


@transaction.atomic
def cancel_job(job: Job, *, now: dt.datetime) -> None:
    """A waiting job stops at once; a running one is asked to, and its worker does so within a second. One that is over
    stays as it is.
    """
    rows = Job.objects.filter(pk=job.pk, cancel_asked_at=None)
    stopped = rows.filter(state=JobState.WAITING).update(
        state=JobState.CANCELLED, cancel_asked_at=now, finished_at=now, progress_words=gettext_noop("Stopped")
    )
    if not stopped:
        rows.filter(state=JobState.RUNNING).update(cancel_asked_at=now)
    job.club.touch(is_news=False)
    job.refresh_from_db()
