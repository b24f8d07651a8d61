"""The sweep: what the queue or a worker lost is taken up again, and what cannot end is ended in words."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest

from planning.jobs.services import send_job as sending
from planning.jobs.services import sweep_jobs as sweeping
from planning.jobs.services.cancel_job import cancel_job
from planning.jobs.services.hold_job import finish_job, keep_hold
from planning.jobs.services.sweep_jobs import sweep_jobs
from planning.models import Job, JobState
from tests import factories as make
from tests.planning.jobs.test_jobs import AFTER_LEASE, NOW, SOON, claim, nothing

LONG_AFTER = NOW + dt.timedelta(minutes=20)


@pytest.fixture
def sent(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Ids that the sweep put on the queue."""
    out: list[int] = []

    def send(pk: int) -> None:
        out.append(pk)
        Job.objects.filter(pk=pk).update(sent_at=NOW)

    monkeypatch.setattr(sweeping, "send_job", send)
    return out


def test_a_waiting_job_whose_message_was_lost_is_sent_again(db, sent):
    never, lost = make.JobFactory(sent_at=None), make.JobFactory(sent_at=NOW - dt.timedelta(seconds=16))
    make.JobFactory(sent_at=NOW)
    assert sweep_jobs(now=SOON).sent == 2
    assert sent == [never.pk, lost.pk]


def test_a_job_whose_worker_died_is_sent_again(db, sent):
    job = make.JobFactory(sent_at=NOW + dt.timedelta(seconds=12))
    claim(job)
    assert sweep_jobs(now=SOON).sent == 0
    assert sweep_jobs(now=AFTER_LEASE).sent == 1
    assert sent == [job.pk]


def test_a_job_whose_workers_keep_dying_fails_in_words(db, sent):
    job = make.JobFactory(max_tries=2)
    claim(job)
    claim(job, AFTER_LEASE)
    assert sweep_jobs(now=AFTER_LEASE + dt.timedelta(seconds=20)).failed == 1
    job.refresh_from_db()
    assert (job.state, job.error_code) == (JobState.FAILED, "worker_lost")
    assert "restart helmroom" in job.error_words


def test_a_job_asked_to_stop_whose_worker_died_is_stopped(db, sent):
    job = make.JobFactory()
    claim(job)
    cancel_job(job, now=SOON)
    assert sweep_jobs(now=AFTER_LEASE).stopped == 1
    job.refresh_from_db()
    assert job.state == JobState.CANCELLED


def test_a_job_that_overran_is_ended_and_its_worker_can_write_no_more(db, sent):
    job = make.JobFactory()
    hold = claim(job)
    late = NOW + dt.timedelta(seconds=131)
    keep_hold(hold, 0.9, "Nearly there", now=late)
    assert sweep_jobs(now=late).failed == 1
    assert not finish_job(hold, {}, now=late, keep=nothing)
    job.refresh_from_db()
    assert (job.state, job.error_code) == (JobState.FAILED, "deadline")


def test_a_laptop_that_slept_goes_on_with_its_job_and_fails_none(db, sent):
    """By the clock on the wall lease and deadline are long over: it is tried again first."""
    job = make.JobFactory()
    hold = claim(job)
    swept = sweep_jobs(now=LONG_AFTER)
    assert (swept.failed, swept.sent) == (0, 1)
    assert keep_hold(hold, 0.5, "Half of it", now=LONG_AFTER, seconds_left=60), "the worker that woke goes on"
    assert sweep_jobs(now=LONG_AFTER).failed == 0
    assert finish_job(hold, {}, now=LONG_AFTER, keep=nothing)


def test_a_job_whose_worker_died_is_taken_up_however_long_the_next_one_takes_to_get_ready(db, sent):
    job = make.JobFactory(sent_at=NOW)
    claim(job)
    swept = sweep_jobs(now=LONG_AFTER)
    assert (swept.failed, swept.sent) == (0, 1)
    job.refresh_from_db()
    assert (job.state, job.tries) == (JobState.RUNNING, 1), "getting ready is no try"
    assert claim(job, LONG_AFTER) is not None


def test_a_sweep_while_the_queue_is_out_of_reach_leaves_jobs_waiting(db, monkeypatch):
    def broken(pk: int) -> None:
        raise ConnectionError("refused")

    monkeypatch.setattr(sweeping, "send_job", broken)
    job = make.JobFactory()
    assert sweep_jobs(now=SOON).sent == 0
    job.refresh_from_db()
    assert (job.state, job.sent_at) == (JobState.WAITING, None)


def test_a_sent_job_is_noted_as_sent(db, monkeypatch):
    sent: list[tuple[str, list[int]]] = []
    queue = SimpleNamespace(send_task=lambda name, args: sent.append((name, args)))
    monkeypatch.setattr(sending, "current_app", queue)
    job = make.JobFactory()
    sending.send_job(job.pk)
    job.refresh_from_db()
    assert sent == [("planning.run_job", [job.pk])]
    assert job.sent_at is not None
