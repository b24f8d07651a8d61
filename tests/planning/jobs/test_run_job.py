"""What a worker does beside and after its work, beat by beat; no thread, no waiting."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest
from django.db import InterfaceError, OperationalError, ProgrammingError

from motion.errors import CancelledError, DeadlineError, NoCourseError, SceneError
from planning.jobs import tasks
from planning.jobs.kinds import KINDS, Kind
from planning.jobs.progress import JobControl
from planning.jobs.services import run_job as running
from planning.jobs.services.hold_job import claim_job
from planning.jobs.services.run_job import Heartbeat, _attempt, run_job
from planning.models import Job
from tests import factories as make

NOW = make.NOW
pytestmark = pytest.mark.usefixtures("bystander")


@pytest.fixture
def clock(monkeypatch):
    """The seconds of the worker's own clock, and the moment of its rows."""
    clock = SimpleNamespace(seconds=100.0, now=NOW)
    monkeypatch.setattr(running, "time", SimpleNamespace(monotonic=lambda: clock.seconds))
    monkeypatch.setattr(running, "timezone", SimpleNamespace(now=lambda: clock.now))
    return clock


def hold_of(job, lease_s=15):
    return claim_job(job.pk, now=NOW, lease_s=lease_s, deadline_s=120)


class Beats:
    """In place of the event that ends the thread: each look first does the next of ``steps``; after them it is set."""

    def __init__(self, *steps):
        self.steps, self.waited = list(steps), []

    def wait(self, seconds):
        self.waited.append(seconds)
        if not self.steps:
            return True
        self.steps.pop(0)()
        return False


def beat(hold, monkeypatch, *steps, dropped=0, ends=None):
    """The heartbeat after the steps, and the writes that it made. ``dropped`` connections were given up on the way."""
    written, closed = [], []
    real = running.keep_hold

    def keep(held, fraction, words, *, now, seconds_left):
        written.append((fraction, words, now))
        return real(held, fraction, words, now=now, seconds_left=seconds_left)

    monkeypatch.setattr(running, "keep_hold", keep)
    monkeypatch.setattr(running, "connection", SimpleNamespace(close=lambda: closed.append(True)))
    heart = Heartbeat(hold, ends)
    heart._end = Beats(*[lambda step=step: step(heart) for step in steps])
    heart._beat()
    assert closed == [True] * (dropped + 1), "each that dropped, and its own at the end"
    assert heart._end.waited == [0.3] * (len(steps) + 1)
    return heart, written


def test_progress_is_written_when_it_changed_and_the_lease_renewed_after_a_third_of_it(job, clock, monkeypatch):
    def after(seconds, *told):
        def step(heart):
            clock.seconds += seconds
            clock.now += dt.timedelta(seconds=seconds)
            if told:
                heart.tell(*told)

        return step

    at = lambda seconds: NOW + dt.timedelta(seconds=seconds)  # noqa: E731
    steps = [
        after(1),
        after(1),
        after(4),
        after(0.5),
        after(0.5, 0.4, "Round"),
        after(1, 0.5, "Round"),
        after(5),
        after(1),
    ]
    heart, written = beat(hold_of(job), monkeypatch, *steps)
    assert written == [
        (0.0, "Starting", at(1)),
        (0.0, "Starting", at(6.5)),  # five seconds, a third of the lease, are over since the last
        (0.4, "Round", at(7)),
        (0.5, "Round", at(8)),
        (0.5, "Round", at(14)),
    ]
    assert not heart.stopped()
    row = Job.objects.get(pk=job.pk)
    assert (row.progress, row.progress_words, row.lease_until) == (0.5, "Round", at(29))


def test_the_work_hears_that_it_is_to_stop(job, clock, monkeypatch):
    ask = lambda heart: Job.objects.filter(pk=job.pk).update(cancel_asked_at=NOW)  # noqa: E731
    heart, _ = beat(hold_of(job), monkeypatch, lambda heart: None)
    assert not heart.stopped()
    heart, _ = beat(claim_again(job), monkeypatch, ask)
    assert (heart.asked_to_stop, heart.lost, heart.stopped()) == (True, False, True)


def claim_again(job):
    Job.objects.filter(pk=job.pk).update(lease_until=NOW - dt.timedelta(seconds=1))
    return hold_of(job)


def test_the_work_hears_that_another_has_its_job(job, clock, monkeypatch):
    hold = hold_of(job)
    heart, _ = beat(hold, monkeypatch, lambda heart: Job.objects.filter(pk=job.pk).update(token=99))
    assert (heart.asked_to_stop, heart.lost, heart.stopped()) == (False, True, True)


def test_a_beat_that_cannot_be_written_is_written_by_the_next(job, clock, monkeypatch, caplog):
    heart, written = beat(hold_of(job), monkeypatch, breaks, lambda heart: None, lambda heart: None, dropped=1)
    assert caplog.text.count("A heartbeat could not be written") == 1 and not heart.stopped()
    assert [fraction for fraction, *_ in written] == [0.3, 0.3], "tried, tried again, and then there is nothing new"
    assert Job.objects.get(pk=job.pk).progress == 0.3


def test_a_beat_that_could_not_be_written_for_a_lease_knows_that_it_is_over(job, clock, monkeypatch):
    """Another worker may hold the job by now."""

    def away(heart):
        heart.hold = SimpleNamespace(lease_s=15)  # has no rows: to write raises
        clock.seconds += 8

    heart, _ = beat(hold_of(job), monkeypatch, away, lambda heart: None, dropped=2)
    assert not heart.stopped(), "eight seconds of fifteen"
    again = claim_again(job)
    heart, _ = beat(again, monkeypatch, away, away, lambda heart: setattr(heart, "hold", again), dropped=2)
    assert heart.lost and heart.stopped()


def test_the_deadline_goes_by_the_workers_own_clock_which_stands_still_in_sleep(job, clock, monkeypatch):
    def slept(heart):
        clock.seconds += 6
        clock.now += dt.timedelta(hours=2)

    beat(hold_of(job), monkeypatch, slept, ends=clock.seconds + 120)
    assert Job.objects.get(pk=job.pk).deadline_at == NOW + dt.timedelta(hours=2, seconds=114)


@pytest.mark.parametrize("error", [OperationalError("server closed the connection"), InterfaceError("closed")])
def test_what_came_of_the_work_is_written_though_the_database_was_away(job, clock, monkeypatch, error):
    closed, slept, left = [], [], [error, error]

    def conclude():
        if left:
            raise left.pop()
        return True

    monkeypatch.setattr(running, "connection", SimpleNamespace(close=lambda: closed.append(True)))
    monkeypatch.setattr(running.time, "sleep", slept.append, raising=False)
    running._write_down(conclude, hold_of(job))
    assert (left, len(closed), len(slept)) == ([], 2, 2)


def test_what_cannot_be_written_for_a_lease_is_given_up(job, clock, monkeypatch):
    def conclude():
        clock.seconds += 10
        raise OperationalError("server closed the connection")

    monkeypatch.setattr(running, "connection", SimpleNamespace(close=lambda: None))
    monkeypatch.setattr(running.time, "sleep", lambda seconds: None, raising=False)
    with pytest.raises(OperationalError):
        running._write_down(conclude, hold_of(job))


def breaks(heart):
    """A step after which a write fails, and the next one does not."""
    heart.tell(0.3, "Round")
    hold, heart.hold = heart.hold, SimpleNamespace(lease_s=15)  # has no rows: to write raises
    heart._end.steps[0] = lambda: setattr(heart, "hold", hold)


def test_it_beats_beside_the_work_and_ends_with_it(job, monkeypatch):
    monkeypatch.setattr(running, "LOOK_S", 600.0)
    heart = Heartbeat(hold_of(job))
    with heart as entered:
        assert entered is heart and heart._thread.is_alive() and not heart.stopped()
    assert not heart._thread.is_alive(), "the work's end does not wait for the next look"


# What comes of it


def tried(job, monkeypatch, work, *, asked_to_stop=False):
    """The row once what came of the work is written."""
    kept = []
    monkeypatch.setitem(KINDS, "plan_course", Kind(work, lambda job, result, now: kept.append((job.pk, result, now))))
    hold = hold_of(job)
    heart = SimpleNamespace(asked_to_stop=asked_to_stop)
    wrote = _attempt(hold, heart, JobControl(tell=None, seconds_left=None, stopped=None))()
    row = Job.objects.get(pk=job.pk)
    return wrote, row.state, row.error_code, row.error_words or row.progress_words, row.result, kept


def raises(error):
    def work(job_input, progress):
        raise error

    return work


@pytest.mark.parametrize(
    ("error", "asked_to_stop", "row"),
    [
        (CancelledError("cancelled", "Stopped."), True, (True, "cancelled", "", "Stopped", None)),
        (CancelledError("cancelled", "Stopped."), False, (False, "running", "", "Starting", None)),
        (NoCourseError("no_gap", "No gap."), False, (True, "failed", "no_gap", "No gap.", None)),
        (
            NoCourseError("no_gap", "No gap.", {"gap_mm": 1}),
            False,
            (True, "failed", "no_gap", "No gap.", {"tightest": {"gap_mm": 1}}),
        ),
        (
            NoCourseError("no_gap", "No gap.", {"gap_mm": 1}, {"move": "the crate"}),
            False,
            (True, "failed", "no_gap", "No gap.", {"tightest": {"gap_mm": 1}, "mend": {"move": "the crate"}}),
        ),
        (
            DeadlineError("deadline", "Over."),
            False,
            (
                True,
                "failed",
                "deadline",
                "This took longer than it may. Ask again with fewer alternatives or another aim.",
                None,
            ),
        ),
        (SceneError("no_base", "No base.", "base"), False, (True, "failed", "no_base", "base: No base.", None)),
        (ValueError("broke"), False, (True, "waiting", "", "Trying again", None)),
    ],
)
def test_what_ends_the_work_ends_the_job_in_words(job, clock, monkeypatch, error, asked_to_stop, row):
    assert tried(job, monkeypatch, raises(error), asked_to_stop=asked_to_stop) == (*row, [])
    if row[1] in ("failed", "cancelled"):
        assert Job.objects.get(pk=job.pk).finished_at == NOW


def test_what_the_work_gives_is_the_result_and_is_kept(job, clock, monkeypatch):
    Job.objects.filter(pk=job.pk).update(input={"a": 1})
    wrote, state, *_, result, kept = tried(job, monkeypatch, lambda job_input, progress: {"heard": job_input})
    assert (wrote, state, result) == (True, "done", {"heard": {"a": 1}})
    assert kept == [(job.pk, result, NOW)]


def test_a_worker_claims_by_the_settings_and_tells_the_work_how_long_it_has(job, clock, monkeypatch, settings):
    settings.HELMROOM_JOB_DEADLINE_S, settings.HELMROOM_JOB_LEASE_S = 30, 12
    left, seen = [], []

    class Heart:
        asked_to_stop = False

        def __init__(self, hold, ends):
            seen.append((hold.job.pk, hold.lease_s, Job.objects.get(pk=job.pk).lease_until))

        def __enter__(self):
            return self

        def __exit__(self, *_):
            seen.append("ended")

        def tell(self, fraction, words):
            seen.append((fraction, words))

        def stopped(self):
            return False

    def work(job_input, progress):
        left.append(progress.seconds_left())
        clock.seconds += 7
        left.append(progress.seconds_left())
        progress.tell(0.5, "Half")
        return {"stopped": progress.stopped()}

    monkeypatch.setattr(running, "Heartbeat", Heart)
    monkeypatch.setitem(KINDS, "plan_course", Kind(work, lambda *_: None))
    run_job(job.pk)
    assert left == [30.0, 23.0]
    assert seen == [(job.pk, 12, NOW + dt.timedelta(seconds=12)), (0.5, "Half"), "ended"]
    row = Job.objects.get(pk=job.pk)
    assert (row.state, row.result, row.deadline_at) == ("done", {"stopped": False}, NOW + dt.timedelta(seconds=30))
    run_job(job.pk)
    assert len(left) == 2, "it is done"


def test_a_message_that_comes_while_the_database_is_away_is_a_line_in_the_log(monkeypatch, caplog):
    """The job stays in its row, and the sweep sends it again; the next message finds a new connection."""
    closed = []

    def away():
        raise OperationalError("disk I/O error")

    monkeypatch.setattr(tasks, "run_next_job", away)
    monkeypatch.setattr(tasks, "connection", SimpleNamespace(close=lambda: closed.append("closed")))
    tasks.run(7)
    assert closed == ["closed"]
    (line,) = caplog.records
    assert (line.levelname, line.exc_info) == ("WARNING", None) and "disk I/O error" in line.getMessage()


def test_a_fault_of_ours_in_a_message_is_not_passed_over(monkeypatch):
    def broken():
        raise ProgrammingError("no such column")

    monkeypatch.setattr(tasks, "run_next_job", broken)
    with pytest.raises(ProgrammingError):
        tasks.run(7)
