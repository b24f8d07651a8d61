"""When a laptop's worker is taken to hang: by the supervisor's own clock, which stands still while the laptop sleeps."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest
from django.db import OperationalError

from config.process import supervisor as watching
from config.process.supervisor import Supervisor
from planning.models import Job
from tests import factories as make
from tests.planning.jobs.test_jobs import AFTER_LEASE, NOW, claim

SLEPT = NOW + dt.timedelta(hours=2)


@pytest.fixture
def watch(db, monkeypatch, settings):
    settings.HELMROOM_JOB_LEASE_S = 15
    clock = SimpleNamespace(seconds=100.0)
    monkeypatch.setattr(watching, "time", SimpleNamespace(monotonic=lambda: clock.seconds))
    found = Supervisor("solo")
    found._born_at = NOW - dt.timedelta(minutes=1)
    return found, clock


def test_a_laptop_that_slept_keeps_its_worker(watch):
    supervisor, clock = watch
    job = make.JobFactory()
    claim(job)
    assert not supervisor._worker_hangs(SLEPT)
    Job.objects.filter(pk=job.pk).update(lease_until=SLEPT + dt.timedelta(seconds=15), deadline_at=SLEPT)
    clock.seconds += 16
    assert not supervisor._worker_hangs(SLEPT)


def test_a_worker_without_a_sign_of_life_for_a_lease_is_replaced(watch):
    supervisor, clock = watch
    claim(make.JobFactory())
    assert not supervisor._worker_hangs(AFTER_LEASE)
    clock.seconds += 16
    assert supervisor._worker_hangs(AFTER_LEASE)
    assert not supervisor._worker_hangs(AFTER_LEASE), "the next one has its own time"


def test_what_an_earlier_worker_lost_is_no_fault_of_the_present_one(watch):
    supervisor, clock = watch
    claim(make.JobFactory())
    supervisor._born_at = AFTER_LEASE
    supervisor._worker_hangs(AFTER_LEASE)
    clock.seconds += 60
    assert not supervisor._worker_hangs(SLEPT)


def test_a_worker_that_lives_and_is_deaf_to_the_clock_is_replaced(watch):
    supervisor, _ = watch
    job = make.JobFactory()
    claim(job)
    Job.objects.filter(pk=job.pk).update(lease_until=SLEPT, deadline_at=SLEPT - dt.timedelta(seconds=11))
    assert supervisor._worker_hangs(SLEPT)


def test_what_was_begun_by_a_clock_that_ran_ahead_is_no_fault_of_a_worker_born_since(watch):
    supervisor, clock = watch
    claim(make.JobFactory(), SLEPT)
    assert not supervisor._worker_hangs(NOW)
    clock.seconds += 16
    assert not supervisor._worker_hangs(NOW)


def test_a_silent_worker_is_replaced_also_when_the_clock_was_put_back_in_its_life(watch):
    supervisor, clock = watch
    supervisor._born_at = SLEPT
    assert not supervisor._worker_hangs(NOW)
    claim(make.JobFactory())
    assert not supervisor._worker_hangs(AFTER_LEASE)
    clock.seconds += 16
    assert supervisor._worker_hangs(AFTER_LEASE)


@pytest.mark.parametrize(
    ("error", "level", "has_traceback"),
    [(OperationalError("disk I/O error"), "WARNING", False), (ValueError("a fault of ours"), "ERROR", True)],
)
def test_a_database_that_is_away_is_a_line_a_sweep_and_no_traceback(
    watch, monkeypatch, caplog, error, level, has_traceback
):
    def sweep(**_):
        raise error

    monkeypatch.setattr(watching, "sweep_jobs", sweep)
    watch[0]._sweep()
    (line,) = caplog.records
    assert (line.levelname, line.exc_info is not None) == (level, has_traceback)
    assert str(error) in caplog.text
