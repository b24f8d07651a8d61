"""Asking for background work."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from typing import Any

from django.db import IntegrityError, transaction

from classroom.models import Club, Coach, Team
from missions.models import TierVersion
from planning.jobs.services.send_job import send_job
from planning.models import Job

#: Goes up when the planner would answer the same question otherwise, so that old answers are not given for it.
ENGINE = 7


def input_hash(kind: str, job_input: dict[str, Any]) -> str:
    """Digest of everything that the answer depends on."""
    text = json.dumps([ENGINE, kind, job_input], sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def ask_for_job(
    club: Club,
    kind: str,
    job_input: dict[str, Any],
    *,
    team: Team | None = None,
    tier_version: TierVersion | None = None,
    asked_by: Coach | None = None,
    now: dt.datetime,
) -> Job:
    """The job that answers this input: one that is done, running or waiting already, or a new one.

    The row is written in the caller's transaction, and the queue hears of it only once that is committed.
    """
    digest = input_hash(kind, job_input)
    standing = Job.objects.answering(club, kind, digest)
    if found := standing.first():
        return found
    try:
        with transaction.atomic():
            job = Job.objects.create(
                club=club,
                kind=kind,
                input=job_input,
                input_hash=digest,
                team=team,
                tier_version=tier_version,
                asked_by=asked_by,
                created_at=now,
            )
    except IntegrityError:
        return standing.get()  # somebody asked the same at the same moment
    transaction.on_commit(lambda: send_job(job.pk), robust=True)
    return job
