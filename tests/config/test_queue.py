"""The queue's settings, and requests that succeed whatever has become of it."""

from __future__ import annotations

import contextlib
import datetime as dt
import shutil
import socket
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from celery import Celery
from django.urls import reverse
from django.utils import timezone

from config.celery import queue_settings
from planning.jobs.services.send_job import KNOCK_S
from planning.jobs.services.sweep_jobs import sweep_jobs
from planning.models import Job, JobState
from tests import factories as make
from tests.patience import LONGEST_S, until


@pytest.fixture
def far_queue(monkeypatch: pytest.MonkeyPatch, settings: Any) -> Iterator[int]:
    """The site sends to a Redis at a port where nothing answers (yet)."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    broker = f"redis://127.0.0.1:{port}/0"
    app = Celery("far", set_as_current=False)
    app.conf.update(queue_settings(broker, Path("unused"), 120))
    settings.HELMROOM_BROKER = broker

    monkeypatch.setattr("planning.jobs.services.send_job.current_app", app)
    yield port
    app.close()


def ask(cast: Any) -> Any:
    tier = make.mission_with_tiers(cast.club)[1][0]
    return cast.as_coach.post(
        reverse("course_ask", args=[cast.team_a.pk, tier.tier_id]), {"aim": "fastest", "alternatives": 1}
    )


@pytest.mark.django_db(transaction=True)
def test_a_coach_is_answered_though_redis_is_out_of_reach(far_queue, cast):
    response = ask(cast)
    assert response.status_code == 302
    job = Job.objects.get()
    assert (job.state, job.sent_at) == (JobState.WAITING, None)
    assert "Waiting for its turn" in cast.as_coach.get(response.url).content.decode()


@pytest.mark.django_db(transaction=True)
def test_a_coach_is_answered_though_redis_takes_connections_and_hangs(far_queue, cast, monkeypatch):
    """As one that is stopped does: the kernel still takes connections for it."""
    asked: list[str] = []
    monkeypatch.setattr("planning.jobs.services.send_job.current_app.send_task", lambda *a, **k: asked.append("sent"))
    with socket.socket() as hung:
        hung.bind(("127.0.0.1", far_queue))
        hung.listen(8)
        assert ask(cast).status_code == 302
    job = Job.objects.get()
    assert (job.state, job.sent_at, asked) == (JobState.WAITING, None, [])


def test_a_request_waits_under_half_a_second_for_the_queue():
    """Each of the two waits of a knock, connecting and answering, takes half of this at most."""
    assert KNOCK_S < 0.5


@pytest.mark.redis
@pytest.mark.skipif(not shutil.which("redis-server"), reason="needs redis-server (apt-get install redis-server)")
@pytest.mark.django_db(transaction=True)
def test_jobs_that_waited_are_sent_when_redis_comes_back(far_queue, cast, tmp_path):
    import redis

    ask(cast)
    assert sweep_jobs(now=timezone.now()).sent == 0
    command = ["redis-server", "--port", str(far_queue), "--bind", "127.0.0.1", "--save", "", "--dir", str(tmp_path)]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    try:
        client = redis.Redis(port=far_queue)

        def answers() -> bool:
            with contextlib.suppress(redis.ConnectionError):
                return bool(client.ping())
            return False

        until(answers, "Redis to answer")
        soon = timezone.now() + dt.timedelta(seconds=1)
        assert sweep_jobs(now=soon).sent == 1
        assert client.llen("celery") == 1
    finally:
        server.terminate()
        server.wait(LONGEST_S)


def test_redis_looks_for_what_a_dead_worker_held_within_seconds():
    """Kombu's default is every 10 x 10 s."""
    options = queue_settings("redis://somewhere/0", Path("x"), 120)["broker_transport_options"]
    assert options["unacked_restore_interval"] * options["unacked_restore_throttle"] <= 2


def test_the_embedded_queue_lives_in_the_data_folder():
    told = queue_settings("embedded", Path("/data"), 120)
    assert told["broker_url"].startswith("filesystem://")
    assert told["broker_transport_options"]["data_folder_in"] == "/data/broker"
    assert told["accept_content"] == ["json"]
