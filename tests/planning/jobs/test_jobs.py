"""The row is the truth: whatever queues and workers do, a job is done once, or ends in words."""

from __future__ import annotations

import datetime as dt
import threading
from typing import Any

import pytest
from django.db import transaction

from motion.errors import CancelledError, DeadlineError, NoCourseError, SceneError
from planning.jobs.kinds import KINDS, Kind
from planning.jobs.progress import JobControl
from planning.jobs.services import run_job as running
from planning.jobs.services.ask_for_job import ask_for_job
from planning.jobs.services.cancel_job import cancel_job
from planning.jobs.services.hold_job import claim_job, fail_job, finish_job, give_back, keep_hold, stop_job
from planning.jobs.services.run_job import run_job
from planning.models import Job, JobState
from tests import factories as make
from tests.patience import LONGEST_S, until

NOW = make.NOW
SOON = NOW + dt.timedelta(seconds=1)
AFTER_LEASE = NOW + dt.timedelta(seconds=20)


def claim(job: Job, at: dt.datetime = NOW) -> Any:
    return claim_job(job.pk, now=at, lease_s=15, deadline_s=120)


def nothing(*_: Any) -> None:
    return None


def kind_of_work(monkeypatch: pytest.MonkeyPatch, work: Any, keep: Any = nothing) -> None:
    monkeypatch.setitem(KINDS, "plan_course", Kind(work, keep))


@pytest.fixture
def sent(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Ids that were put on the queue."""
    out: list[int] = []

    def send(pk: int) -> None:
        out.append(pk)
        Job.objects.filter(pk=pk).update(sent_at=NOW)

    monkeypatch.setattr("planning.jobs.services.ask_for_job.send_job", send)
    return out


# Asking


def test_the_queue_hears_of_a_job_only_once_its_row_is_committed(db, sent, django_capture_on_commit_callbacks):
    club = make.ClubFactory()
    with django_capture_on_commit_callbacks(execute=True):
        job = ask_for_job(club, "plan_course", {"a": 1}, now=NOW)
        assert sent == []
    assert sent == [job.pk]


def test_a_request_succeeds_though_the_queue_is_broken(db, monkeypatch, django_capture_on_commit_callbacks):
    def broken(pk: int) -> None:
        raise OSError("no route to the queue")

    monkeypatch.setattr("planning.jobs.services.ask_for_job.send_job", broken)
    with django_capture_on_commit_callbacks() as callbacks:
        job = ask_for_job(make.ClubFactory(), "plan_course", {"a": 1}, now=NOW)
    assert len(callbacks) == 1
    job.refresh_from_db()
    assert (job.state, job.sent_at) == (JobState.WAITING, None)


@pytest.mark.django_db(transaction=True)
def test_a_commit_survives_a_queue_that_cannot_be_reached(monkeypatch):
    def broken(pk: int) -> None:
        raise OSError("no route to the queue")

    monkeypatch.setattr("planning.jobs.services.ask_for_job.send_job", broken)
    club = make.ClubFactory()
    with transaction.atomic():
        job = ask_for_job(club, "plan_course", {"a": 1}, now=NOW)
    assert Job.objects.get(pk=job.pk).state == JobState.WAITING


def test_the_same_input_is_answered_from_the_first_result(db, sent):
    club = make.ClubFactory()
    first = ask_for_job(club, "plan_course", {"a": 1, "b": [2]}, now=NOW)
    finish_job(claim(first), {"answer": 7}, now=NOW, keep=nothing)
    again = ask_for_job(club, "plan_course", {"b": [2], "a": 1}, now=SOON)
    assert again.pk == first.pk
    assert again.result == {"answer": 7}


def test_another_club_gets_its_own_job_for_the_same_input(db, sent):
    one, other = (ask_for_job(make.ClubFactory(), "plan_course", {"a": 1}, now=NOW) for _ in range(2))
    assert one.pk != other.pk


def test_a_job_that_failed_may_be_asked_for_again(db, sent):
    club = make.ClubFactory()
    first = ask_for_job(club, "plan_course", {"a": 1}, now=NOW)
    fail_job(claim(first), "no_course", "No way through.", now=NOW)
    assert ask_for_job(club, "plan_course", {"a": 1}, now=SOON).pk != first.pk


# Holding


def test_only_one_of_two_workers_gets_the_job(db):
    job = make.JobFactory()
    assert claim(job) is not None
    assert claim(job, SOON) is None


def test_a_lease_that_ran_out_lets_another_worker_in(db):
    job = make.JobFactory()
    first = claim(job)
    second = claim(job, AFTER_LEASE)
    assert (first.token, second.token) == (1, 2)


def test_a_heartbeat_keeps_others_out(db):
    job = make.JobFactory()
    hold = claim(job)
    assert keep_hold(hold, 0.5, "Half way", now=NOW + dt.timedelta(seconds=10))
    assert claim(job, AFTER_LEASE) is None
    job.refresh_from_db()
    assert (job.progress, job.progress_words) == (0.5, "Half way")


@pytest.mark.parametrize(
    "write",
    [
        lambda hold: finish_job(hold, {"from": "the slow one"}, now=AFTER_LEASE, keep=nothing),
        lambda hold: fail_job(hold, "slow", "Slow.", now=AFTER_LEASE),
        lambda hold: stop_job(hold, now=AFTER_LEASE),
        lambda hold: give_back(hold, "Again", now=AFTER_LEASE),
        lambda hold: keep_hold(hold, 0.9, "Nearly", now=AFTER_LEASE),
    ],
)
def test_the_token_refuses_the_slow_old_holder(db, write):
    job = make.JobFactory()
    slow = claim(job)
    quick = claim(job, AFTER_LEASE)
    assert not write(slow)
    assert finish_job(quick, {"from": "the quick one"}, now=AFTER_LEASE, keep=nothing)
    assert not write(slow)
    job.refresh_from_db()
    assert (job.state, job.result) == (JobState.DONE, {"from": "the quick one"})


def test_what_follows_from_a_result_is_written_with_it_or_not_at_all(db):
    job = make.JobFactory()
    hold = claim(job)

    def breaks(*_: Any) -> None:
        make.TeamFactory(club=job.club, name="Half written")
        raise RuntimeError

    with pytest.raises(RuntimeError), transaction.atomic():
        finish_job(hold, {}, now=NOW, keep=breaks)
    job.refresh_from_db()
    assert job.state == JobState.RUNNING
    assert not job.club.teams.exists()


# Running


def test_a_message_sent_three_times_does_the_work_once(db, monkeypatch):
    done: list[int] = []

    def work(job_input: dict, progress: JobControl) -> dict:
        done.append(1)
        return {}

    kind_of_work(monkeypatch, work)
    job = make.JobFactory()
    for _ in range(3):
        run_job(job.pk)
    job.refresh_from_db()
    assert (len(done), job.state, job.tries) == (1, JobState.DONE, 1)


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (NoCourseError("no_way", "The gap is 14 cm; your robot needs 17 cm."), "no_way", "The gap is 14 cm"),
        (SceneError("bad_base", "The base crosses itself.", "base"), "bad_base", "base: The base crosses itself."),
        (DeadlineError("deadline", "Out of time."), "deadline", "longer than it may"),
    ],
)
def test_what_cannot_be_done_fails_at_once_and_says_why(db, monkeypatch, error, code, words):
    def work(job_input: dict, progress: JobControl) -> dict:
        raise error

    kind_of_work(monkeypatch, work)
    job = make.JobFactory()
    run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.error_code, job.tries) == (JobState.FAILED, code, 1)
    assert words in job.error_words


def test_the_tightest_place_is_kept_for_the_drawing(db, monkeypatch):
    gap = {"gap_mm": 140.0, "needed_mm": 170.0}

    def work(job_input: dict, progress: JobControl) -> dict:
        raise NoCourseError("no_way", "Too narrow.", gap)

    kind_of_work(monkeypatch, work)
    job = make.JobFactory()
    run_job(job.pk)
    job.refresh_from_db()
    assert job.result == {"tightest": gap}


def test_a_breakdown_is_tried_again_and_then_told_in_words(db, monkeypatch, caplog):
    def work(job_input: dict, progress: JobControl) -> dict:
        raise ZeroDivisionError

    kind_of_work(monkeypatch, work)
    job = make.JobFactory()
    states = []
    for _ in range(3):
        run_job(job.pk)
        job.refresh_from_db()
        states.append(job.state)
    assert states == [JobState.WAITING, JobState.WAITING, JobState.FAILED]
    assert job.error_code == "broke"
    assert "log" in job.error_words
    assert "ZeroDivisionError" in caplog.text


def test_a_kind_that_nobody_knows_ends_in_words_too(db, caplog):
    job = make.JobFactory(kind="knit_a_scarf", max_tries=1)
    run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.error_code) == (JobState.FAILED, "broke")


def test_the_work_is_told_how_long_it_may_take(db, monkeypatch, settings):
    settings.HELMROOM_JOB_DEADLINE_S = 30
    left: list[float] = []

    def work(job_input: dict, progress: JobControl) -> dict:
        left.append(progress.seconds_left())
        return {}

    kind_of_work(monkeypatch, work)
    run_job(make.JobFactory().pk)
    assert 25 < left[0] <= 30


@pytest.mark.django_db(transaction=True)
def test_stopping_a_running_job_reaches_its_worker(monkeypatch):
    started = threading.Event()

    def work(job_input: dict, progress: JobControl) -> dict:
        started.set()
        until(progress.stopped, "the work to be told to stop")
        raise CancelledError("cancelled", "Stopped.")

    kind_of_work(monkeypatch, work)
    job = make.JobFactory()
    worker = threading.Thread(target=_in_thread, args=(job.pk,))
    worker.start()
    assert started.wait(LONGEST_S)
    cancel_job(Job.objects.get(pk=job.pk), now=SOON)
    worker.join(LONGEST_S)
    job.refresh_from_db()
    assert (job.state, job.progress_words) == (JobState.CANCELLED, "Stopped")


@pytest.mark.django_db(transaction=True)
def test_progress_shows_while_the_work_goes_on(monkeypatch):
    told, seen = threading.Event(), threading.Event()

    def work(job_input: dict, progress: JobControl) -> dict:
        progress.tell(0.4, "Trying wide ways round")
        told.set()
        assert seen.wait(LONGEST_S)
        return {}

    monkeypatch.setattr(running, "LOOK_S", 0.02)
    kind_of_work(monkeypatch, work)
    job = make.JobFactory()
    worker = threading.Thread(target=_in_thread, args=(job.pk,))
    worker.start()
    assert told.wait(LONGEST_S)

    def shown() -> bool:
        job.refresh_from_db()
        return job.progress == 0.4

    until(shown, "the progress to be kept")
    seen.set()
    worker.join(LONGEST_S)
    assert (job.progress, job.progress_words) == (0.4, "Trying wide ways round")


@pytest.mark.django_db(transaction=True)
def test_a_worker_that_lost_its_hold_writes_nothing(monkeypatch):
    monkeypatch.setattr(running, "LOOK_S", 0.02)

    def work(job_input: dict, progress: JobControl) -> dict:
        Job.objects.filter(pk=job.pk).update(token=99)  # another has claimed it
        progress.tell(0.5, "Still at it")
        until(progress.stopped, "the worker to hear that it lost its hold")
        raise CancelledError("cancelled", "Stopped.")

    kind_of_work(monkeypatch, work)
    job = make.JobFactory()
    run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.token) == (JobState.RUNNING, 99)


def _in_thread(pk: int) -> None:
    from django.db import connection

    try:
        run_job(pk)
    finally:
        connection.close()


# Stopping


def test_a_waiting_job_stops_at_once(db):
    job = make.JobFactory()
    cancel_job(job, now=SOON)
    assert (job.state, job.finished_at) == (JobState.CANCELLED, SOON)
    assert claim(job) is None


def test_a_job_that_is_over_cannot_be_stopped(db):
    job = make.JobFactory()
    finish_job(claim(job), {"answer": 7}, now=NOW, keep=nothing)
    cancel_job(job, now=SOON)
    assert (job.state, job.cancel_asked_at) == (JobState.DONE, None)
