"""What a worker does with a job's id: claim, work with a heartbeat beside it, write the result under its token."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from django.conf import settings
from django.db import InterfaceError, OperationalError, connection
from django.utils import timezone
from django.utils.translation import gettext_noop

from motion.errors import CancelledError, DeadlineError, MotionError, NoCourseError
from planning.courses.rules.course_json import mend_to_json, refusal_to_json
from planning.jobs.kinds import KINDS, ranks
from planning.jobs.progress import JobControl
from planning.jobs.services.hold_job import Hold, claim_job, fail_job, finish_job, give_back, keep_hold, stop_job
from planning.models import Job

log = logging.getLogger(__name__)

#: How often the heartbeat looks whether it was asked to stop, and shows progress.
LOOK_S = 0.3
#: Between two tries to write what came of the work.
WRITE_AGAIN_S = 0.5


@dataclass
class Heartbeat:
    """Beside the work, in a thread: renews the lease at a third of it, shows progress, hears the call to stop.

    It takes a new connection when its own has dropped. A lease that could not be renewed in time is lost: another worker
    may hold the job by then, so this one ends its work.
    """

    hold: Hold
    ends: float | None = None
    fraction: float = 0.0
    words: str = gettext_noop("Starting")
    asked_to_stop: bool = False
    lost: bool = False
    _end: threading.Event = field(default_factory=threading.Event)
    _thread: threading.Thread | None = None

    def __enter__(self) -> Heartbeat:
        self._thread = threading.Thread(target=self._beat, name=f"heartbeat-{self.hold.job.pk}", daemon=True)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._end.set()
        assert self._thread is not None
        self._thread.join()

    def tell(self, fraction: float, words: str) -> None:
        self.fraction, self.words = fraction, words

    def stopped(self) -> bool:
        return self.asked_to_stop or self.lost

    def _beat(self) -> None:
        shown, renewed = ("", -1.0), time.monotonic()
        try:
            while not self._end.wait(LOOK_S):
                try:
                    now = time.monotonic()
                    if shown != (self.words, self.fraction) or now - renewed > self.hold.lease_s / 3:
                        told = (self.words, self.fraction)
                        left = None if self.ends is None else self.ends - now
                        kept = keep_hold(self.hold, told[1], told[0], now=timezone.now(), seconds_left=left)
                        self.lost = self.lost or not kept
                        shown, renewed = told, now
                    self.asked_to_stop = self.hold.rows().exclude(cancel_asked_at=None).exists()
                except Exception as error:
                    log.warning("A heartbeat could not be written; the next one tries again. %s", error)
                    connection.close()  # a dropped one never comes back by itself
                    self.lost = self.lost or time.monotonic() - renewed > self.hold.lease_s
        finally:
            connection.close()  # this thread's own


def run_next_job() -> bool:
    """Do the job whose turn it is; False when there is none.

    A message on the queue only wakes a worker, so that turns are decided when a worker is free and not when it was asked.
    """
    while (pk := Job.objects.next_in_turn(timezone.now(), ranks())) is not None:
        if run_job(pk):
            return True
    return False


def run_job(job_pk: int) -> bool:
    """Do the job, if it is still to be done; False when it is not, or another worker was quicker."""
    deadline_s = settings.HELMROOM_JOB_DEADLINE_S
    hold = claim_job(job_pk, now=timezone.now(), lease_s=settings.HELMROOM_JOB_LEASE_S, deadline_s=deadline_s)
    if hold is None:
        return False
    ends = time.monotonic() + deadline_s
    with Heartbeat(hold, ends) as heart:
        progress = JobControl(tell=heart.tell, seconds_left=lambda: ends - time.monotonic(), stopped=heart.stopped)
        conclude = _attempt(hold, heart, progress)
    if heart.asked_to_stop:  # whatever came of it: nobody waits for it
        conclude = lambda: stop_job(hold, now=timezone.now())  # noqa: E731
    _write_down(conclude, hold)
    return True


def _write_down(conclude: Callable[[], bool], hold: Hold) -> None:
    """What came of it, also when the database was away just now: the work is not done twice for that."""
    until = time.monotonic() + hold.lease_s
    while True:
        try:
            conclude()
            return
        except (OperationalError, InterfaceError) as error:
            if time.monotonic() > until:
                raise
            log.warning("What came of job %s could not be written yet. %s", hold.job.pk, error)
            connection.close()
            time.sleep(WRITE_AGAIN_S)


def _attempt(hold: Hold, heart: Heartbeat, progress: JobControl) -> Callable[[], bool]:
    """Try the work; give back how to write what came of it."""
    try:
        kind = KINDS[hold.job.kind]
        result = kind.work(hold.job.input, progress)
    except CancelledError:
        return lambda: stop_job(hold, now=timezone.now()) if heart.asked_to_stop else False
    except NoCourseError as error:
        code, words = error.code, error.message
        drawn = {"tightest": error.tightest, "mend": mend_to_json(error.mend)}
        shown = {key: value for key, value in drawn.items() if value} | refusal_to_json(error.message)
        return lambda: fail_job(hold, code, words, now=timezone.now(), result=shown or None)
    except DeadlineError:
        words = gettext_noop("This took longer than it may. Ask again with fewer alternatives or another aim.")
        return lambda: fail_job(hold, "deadline", words, now=timezone.now())
    except MotionError as error:
        code, words = error.code, str(error)
        return lambda: fail_job(hold, code, words, now=timezone.now())
    except Exception:
        log.exception("Job %s broke.", hold.job.pk)
        return lambda: give_back(hold, gettext_noop("Trying again"), now=timezone.now())
    return lambda: finish_job(hold, result, now=timezone.now(), keep=kind.keep)
