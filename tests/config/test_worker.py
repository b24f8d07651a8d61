"""Real worker processes, killed as machines kill them, with each queue."""

from __future__ import annotations

import datetime as dt
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psutil
import pytest
from django.conf import settings
from django.db import connection
from django.utils import timezone

from planning.jobs.services.cancel_job import cancel_job
from planning.jobs.services.hold_job import claim_job
from planning.models import Job, JobState
from tests import factories as make
from tests.patience import LONGEST_S, PATIENCE, until
from tests.servers import answers

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]
REDIS_SERVER = os.environ.get("HELMROOM_TEST_REDIS", "redis://127.0.0.1:6379")
#: A database of the server for each process of the suite.
REDIS = f"{REDIS_SERVER}/{8 + int(os.environ.get('PYTEST_XDIST_WORKER', 'gw0')[2:]) % 8}"


QUEUES = [
    "embedded",
    pytest.param(
        REDIS,
        id="redis",
        marks=[
            pytest.mark.redis,
            pytest.mark.skipif(not answers(REDIS, 6379), reason=f"no Redis answers at {REDIS}"),
        ],
    ),
]


class Workshop:
    """A supervisor with its worker, as ``manage.py work`` starts them, on the test's database."""

    def __init__(self, folder: Path, broker: str, **env: str) -> None:
        self.folder = folder
        self.diary = folder / "diary.txt"
        name = str(connection.settings_dict["NAME"])
        self.env = os.environ | {
            "DJANGO_SETTINGS_MODULE": "tests.config.worker_settings",
            "WORKER_DATABASE": name,
            "HELMROOM_DATA": str(folder),
            "NUMBA_CACHE_DIR": str(folder / "numba"),
            "HELMROOM_BROKER": broker,
            "HELMROOM_JOB_LEASE_S": str(2 * PATIENCE),
            "HELMROOM_JOB_SWEEP_S": "0.3",
            **env,
        }
        self.process: subprocess.Popen[bytes] | None = None

    def open(self) -> Workshop:
        self.process = subprocess.Popen(
            [sys.executable, str(settings.BASE_DIR / "manage.py"), "work", "--pool", "solo"],
            env=self.env,
            stdout=subprocess.DEVNULL,
            stderr=(self.folder / "worker.log").open("ab"),
        )
        return self

    def worker(self) -> psutil.Process:
        assert self.process is not None
        parent = psutil.Process(self.process.pid)
        return until(lambda: next(iter(parent.children()), None), "a worker")

    def kill_all(self) -> None:
        """As a power cut would: the supervisor first, so that it can tell nobody."""
        assert self.process is not None
        children = psutil.Process(self.process.pid).children(recursive=True)
        self.process.kill()
        self.process.wait()
        for child in children:
            if child.is_running():
                child.kill()

    def close(self) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.terminate()
            self.process.wait(LONGEST_S)

    def job(self, **job_input: Any) -> Job:
        details = {"diary": str(self.diary), "steps": 10, "pause_s": 0.1, **job_input}
        return make.JobFactory(kind="count_slowly", input=details, created_at=timezone.now())

    def begun(self) -> int:
        """How often the work was begun."""
        return len(self.diary.read_text().split()) if self.diary.exists() else 0


def wait_for_state(job: Job, state: str) -> Job:
    def look() -> bool:
        job.refresh_from_db()
        return job.state == state

    until(look, f"job {job.pk} to be {state}")
    return job


@pytest.fixture
def workshop(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Workshop]:
    broker = getattr(request, "param", "embedded")
    if broker != "embedded":
        import redis

        redis.Redis.from_url(broker).flushdb()
    shop = Workshop(tmp_path, broker)
    yield shop
    shop.close()
    log = tmp_path / "worker.log"
    if log.exists():
        sys.stderr.write(log.read_text()[-4000:])


@pytest.mark.parametrize("workshop", QUEUES, indirect=True)
def test_a_job_whose_worker_is_killed_half_way_is_done_after_restart(workshop):
    job = workshop.job(steps=15)
    workshop.open()
    wait_for_state(job, JobState.RUNNING)
    until(workshop.begun, "the work to begin")
    workshop.worker().kill()
    wait_for_state(job, JobState.DONE)
    assert (job.result, job.tries, job.token, workshop.begun()) == ({"counted": 15}, 2, 2, 2)


@pytest.mark.parametrize("workshop", QUEUES, indirect=True)
def test_a_power_cut_and_a_new_start_finish_the_job(workshop):
    running, waiting = workshop.job(steps=15), workshop.job(steps=1)
    workshop.open()
    until(workshop.begun, "the work to begin")
    workshop.kill_all()
    running.refresh_from_db()
    assert running.state == JobState.RUNNING
    workshop.open()
    wait_for_state(running, JobState.DONE)
    wait_for_state(waiting, JobState.DONE)
    assert running.tries == 2


def test_erasing_the_queue_loses_nothing(workshop):
    workshop.open()
    first = workshop.job(steps=20)
    others = [workshop.job(steps=1) for _ in range(3)]
    wait_for_state(first, JobState.RUNNING)
    shutil.rmtree(workshop.folder / "broker")
    for job in [first, *others]:
        wait_for_state(job, JobState.DONE)
    assert workshop.begun() == 4


def test_emptying_redis_loses_nothing(tmp_path):
    if not answers(REDIS, 6379):
        pytest.skip(f"no Redis answers at {REDIS}")
    import redis

    workshop = Workshop(tmp_path, REDIS).open()
    try:
        first = workshop.job(steps=20)
        other = workshop.job(steps=1)
        wait_for_state(first, JobState.RUNNING)
        redis.Redis.from_url(REDIS).flushdb()
        wait_for_state(first, JobState.DONE)
        wait_for_state(other, JobState.DONE)
    finally:
        workshop.close()


@pytest.mark.skipif(os.name != "posix", reason="processes have no niceness here")
def test_a_worker_leaves_the_processor_to_pages(workshop):
    job = workshop.job(steps=15)
    workshop.open()
    wait_for_state(job, JobState.RUNNING)
    assert workshop.process is not None
    assert workshop.worker().nice() == psutil.Process(workshop.process.pid).nice() + 10


def test_the_worker_ends_with_its_supervisor(workshop):
    workshop.open()
    worker = workshop.worker()
    assert workshop.process is not None
    workshop.process.kill()
    workshop.process.wait()
    until(lambda: not worker.is_running() or worker.status() == psutil.STATUS_ZOMBIE, "the orphan to end")


def test_stopping_a_job_stops_its_worker_long_before_it_is_done(workshop):
    job = workshop.job(steps=1_000_000)
    workshop.open()
    until(workshop.begun, "the work to begin")
    cancel_job(Job.objects.get(pk=job.pk), now=timezone.now())
    wait_for_state(job, JobState.CANCELLED)
    after = workshop.job(steps=1)
    wait_for_state(after, JobState.DONE)


def test_a_job_past_its_deadline_ends_in_words(tmp_path):
    workshop = Workshop(tmp_path, "embedded", HELMROOM_JOB_DEADLINE_S="1").open()
    try:
        job = wait_for_state(workshop.job(steps=400), JobState.FAILED)
        assert (job.error_code, job.tries) == ("deadline", 1)
        assert "longer than it may" in job.error_words
    finally:
        workshop.close()


def test_what_is_asked_while_the_kernels_compile_waits_untried_and_is_done_afterwards(tmp_path):
    hold = tmp_path / "hold"
    hold.touch()
    workshop = Workshop(tmp_path, "embedded", HELMROOM_TEST_HOLD=str(hold)).open()
    try:
        told = tmp_path / "warm.json"
        until(lambda: told.exists() and json.loads(told.read_text())["done"] == 9, "the last kernel")
        job = workshop.job(steps=1)
        waits = until(lambda: Job.objects.filter(pk=job.pk).exclude(sent_at=None).first(), "the sweep to send it")
        assert (waits.state, waits.tries) == (JobState.WAITING, 0)
        hold.unlink()
        wait_for_state(job, JobState.DONE)
        assert (job.tries, workshop.begun()) == (1, 1)
    finally:
        workshop.close()


def test_compiling_is_not_taken_for_a_job_past_its_deadline(tmp_path):
    """A job was at work when the power went; its deadline is long over when the kernels have compiled anew."""
    hold = tmp_path / "hold"
    hold.touch()
    workshop = Workshop(tmp_path, "embedded", HELMROOM_TEST_HOLD=str(hold))
    lost = workshop.job(steps=1)
    ago = timezone.now() - dt.timedelta(minutes=5)
    claim_job(lost.pk, now=ago, lease_s=2, deadline_s=120)
    workshop.open()
    try:
        compiling = workshop.worker()
        until(lambda: Job.objects.filter(pk=lost.pk).exclude(sent_at=None).exists(), "the sweep to send it again")
        assert compiling.is_running(), "what compiles was ended"
        lost.refresh_from_db()
        assert (lost.state, lost.tries) == (JobState.RUNNING, 1), "compiling counted as a try"
        hold.unlink()
        wait_for_state(lost, JobState.DONE)
        assert lost.tries == 2
    finally:
        workshop.close()


def test_kernels_that_cannot_be_compiled_keep_no_other_work_waiting(tmp_path):
    workshop = Workshop(tmp_path, "embedded", HELMROOM_TEST_COMPILE_S="never").open()
    try:
        wait_for_state(workshop.job(steps=1, pause_s=0), JobState.DONE)
        assert json.loads((tmp_path / "warm.json").read_text())["failed"]
        assert (tmp_path / "worker.log").read_text().count("could not convert string to float") == 3, "three tries"
    finally:
        workshop.close()


def test_a_worker_that_is_deaf_to_the_clock_is_replaced(tmp_path):
    workshop = Workshop(tmp_path, "embedded", HELMROOM_JOB_DEADLINE_S="1").open()
    try:
        job = workshop.job(steps=4000, deaf=True)
        until(workshop.begun, "the work to begin")
        deaf = workshop.worker()
        wait_for_state(job, JobState.FAILED)
        assert job.error_code == "deadline"
        until(lambda: not deaf.is_running() or deaf.status() == psutil.STATUS_ZOMBIE, "the deaf worker to end")
        wait_for_state(workshop.job(steps=1, pause_s=0), JobState.DONE)
    finally:
        workshop.close()
