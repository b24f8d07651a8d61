"""Holding a job: claim it by a conditional update, keep its lease, and write only while holding its token."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext_noop

from motion.course.sentences import Sentence, keep
from planning.models import Job, JobState

#: Of what a job is doing.
MOST_LETTERS = 120


@dataclass(frozen=True)
class Hold:
    """A claim. ``token`` fences: once somebody else has claimed the job, nothing is written under this one."""

    job: Job
    token: int
    lease_s: float

    def rows(self) -> Any:
        return Job.objects.filter(pk=self.job.pk, token=self.token, state=JobState.RUNNING)


def claim_job(job_pk: int, *, now: dt.datetime, lease_s: float, deadline_s: float) -> Hold | None:
    """The hold, or None when the job is over, held by another, or not to be tried again."""
    job = Job.objects.claimable(now).filter(pk=job_pk).select_related("club", "team", "tier_version").first()
    if job is None:
        return None
    taken = (
        Job.objects.claimable(now)
        .filter(pk=job_pk, token=job.token)
        .update(
            state=JobState.RUNNING,
            token=F("token") + 1,
            tries=F("tries") + 1,
            lease_until=now + dt.timedelta(seconds=lease_s),
            deadline_at=now + dt.timedelta(seconds=deadline_s),
            started_at=now,
            progress=0,
            progress_words=gettext_noop("Starting"),
        )
    )
    return Hold(job, job.token + 1, lease_s) if taken else None


def keep_hold(hold: Hold, progress: float, words: str, *, now: dt.datetime, seconds_left: float | None = None) -> bool:
    """Renew the lease and show how far it is. False: the hold is lost.

    ``seconds_left`` by the worker's own clock, which stands still while a laptop sleeps, sets the deadline anew.
    """
    deadline = {} if seconds_left is None else {"deadline_at": now + dt.timedelta(seconds=seconds_left)}
    return bool(
        hold.rows().update(
            lease_until=now + dt.timedelta(seconds=hold.lease_s),
            progress=min(max(progress, 0.0), 1.0),
            progress_words=_kept_words(words),
            **deadline,
        )
    )


def _kept_words(words: str) -> str:
    """As ``Job.how_far`` reads them: with numbers beside them where the row has room for that, else their English."""
    with_values = json.dumps(keep(words)) if isinstance(words, Sentence) and words.has_values else ""
    return with_values if 0 < len(with_values) <= MOST_LETTERS else words[:MOST_LETTERS]


def finish_job(
    hold: Hold, result: dict[str, Any], *, now: dt.datetime, keep: Callable[[Job, dict[str, Any], dt.datetime], None]
) -> bool:
    """Write the result and what follows from it (``keep``) in one transaction. False: the hold was lost, or it was asked
    to stop meanwhile and has; nothing is kept.
    """
    with transaction.atomic():
        done = (
            hold.rows()
            .filter(cancel_asked_at=None)
            .update(
                state=JobState.DONE,
                result=result,
                progress=1,
                progress_words=gettext_noop("Done"),
                lease_until=None,
                finished_at=now,
            )
        )
        if done:
            keep(hold.job, result, now)
            hold.job.club.touch(is_news=False)  # what follows from it for tablets, ``keep`` tells
    if not done:
        _end(hold, now, asked_to_stop=True, **STOPPED)
    return bool(done)


def fail_job(hold: Hold, code: str, words: str, *, now: dt.datetime, result: dict[str, Any] | None = None) -> bool:
    """It cannot be done, and why, in words. It is not tried again: the answer would be the same."""
    return _end(hold, now, state=JobState.FAILED, error_code=code[:40], error_words=words[:500], result=result)


def stop_job(hold: Hold, *, now: dt.datetime) -> bool:
    """It was asked to stop, and has."""
    return _end(hold, now, **STOPPED)


STOPPED: dict[str, Any] = {"state": JobState.CANCELLED, "progress_words": gettext_noop("Stopped")}


def give_back(hold: Hold, words: str, *, now: dt.datetime) -> bool:
    """It broke in a way that may not come again: back to the queue while tries are left, else failed."""
    with transaction.atomic():
        if hold.job.tries + 1 < hold.job.max_tries:
            return bool(
                hold.rows().update(state=JobState.WAITING, lease_until=None, sent_at=None, progress_words=words)
            )
        return fail_job(hold, "broke", BROKE_WORDS, now=now)


BROKE_WORDS = gettext_noop(
    "The planner broke down on this each time it tried. What happened is in the program's log; "
    "try another aim, or change the mission a little and ask again."
)


def _end(hold: Hold, now: dt.datetime, *, asked_to_stop: bool = False, **changes: Any) -> bool:
    rows = hold.rows().exclude(cancel_asked_at=None) if asked_to_stop else hold.rows()
    with transaction.atomic():
        ended = rows.update(lease_until=None, finished_at=now, **changes)
        if ended:
            hold.job.club.touch(is_news=False)
    return bool(ended)
