"""The sweep: what the queue lost is sent again, what its worker lost is taken up again, what cannot end is ended."""

from __future__ import annotations

import datetime as dt
import logging
from dataclasses import dataclass

from django.conf import settings
from django.db.models import F, Q
from django.utils.translation import gettext_noop

from planning.jobs.queries import CLOCKS_DIFFER, clock_was_put_back, lease_is_over
from planning.jobs.services.send_job import send_job
from planning.models import Job, JobState

log = logging.getLogger(__name__)

#: Sent in one sweep at most, so that a sweep stays short whatever has piled up.
MOST_SENT = 50


@dataclass(frozen=True)
class Swept:
    stopped: int
    failed: int
    sent: int


def sweep_jobs(*, now: dt.datetime) -> Swept:
    """One sweep. Any number of processes may sweep at once."""
    expired = Q(state=JobState.RUNNING) & lease_is_over(now)
    waiting = Q(state=JobState.WAITING)
    stopped = (
        Job.objects.filter(waiting | expired)
        .exclude(cancel_asked_at=None)
        .update(state=JobState.CANCELLED, token=F("token") + 1, lease_until=None, finished_at=now)
    )
    failed = Job.objects.filter(waiting | expired, tries__gte=F("max_tries")).update(
        state=JobState.FAILED,
        token=F("token") + 1,
        lease_until=None,
        finished_at=now,
        error_code="worker_lost",
        error_words=gettext_noop(
            "The planner's process ended before it had finished this, each time it tried. Ask again; "
            "if it keeps happening, restart helmroom."
        ),
    )
    failed += Job.objects.overdue(now).update(
        state=JobState.FAILED,
        token=F("token") + 1,
        lease_until=None,
        finished_at=now,
        error_code="deadline",
        error_words=gettext_noop("This took longer than it may. Ask again with fewer alternatives or another aim."),
    )
    return Swept(stopped, failed, _send_again(waiting | expired, now))


def _send_again(undone: Q, now: dt.datetime) -> int:
    lease = dt.timedelta(seconds=settings.HELMROOM_JOB_LEASE_S)
    fresh = Q(sent_at__gte=now - lease, sent_at__lte=now + CLOCKS_DIFFER)
    # While workers take one job after the other, a job that was sent waits for nothing but its turn: one message a job.
    sent_once = Q(state=JobState.WAITING) & (fresh if Job.objects.stands_still(now, lease) else ~Q(sent_at=None))
    # A message that is older than the lost lease was taken by the worker that died with it.
    on_its_way = sent_once | fresh & (Q(sent_at__gte=F("lease_until")) | clock_was_put_back(now))
    sent = 0
    for pk in Job.objects.filter(undone).exclude(on_its_way).order_by("pk").values_list("pk", flat=True)[:MOST_SENT]:
        try:
            send_job(pk)
        except Exception as error:  # whatever the queue's library raises: the rows stay, the next sweep tries again
            log.warning("The queue cannot be reached; jobs wait in their rows. %s", error)
            break
        sent += 1
    return sent
