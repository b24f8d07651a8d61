"""What goes on the queue, what does not, and whether the queue gives a sign of life."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from planning.jobs.services import ask_for_job as asking
from planning.jobs.services import send_job as sending
from planning.jobs.services.ask_for_job import ask_for_job
from planning.jobs.services.send_job import queue_answers, send_job
from planning.models import Job
from tests import factories as make

NOW = make.NOW
pytestmark = pytest.mark.usefixtures("bystander")


@pytest.fixture
def queue(monkeypatch):
    """What was put on the queue, and at whose door was knocked."""
    queue = SimpleNamespace(sent=[], knocked=[], said=[], closed=0, life=b"+PONG\r\n")

    class Line:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            queue.closed += 1

        def settimeout(self, seconds):
            queue.said.append(seconds)

        sendall = queue.said.append

        def recv(self, most):
            return queue.life[:most]

    def door(where, timeout):
        queue.knocked.append((where, timeout))
        return Line()

    app = SimpleNamespace(send_task=lambda name, args: queue.sent.append((name, args)))
    monkeypatch.setattr(sending, "current_app", app)
    monkeypatch.setattr(sending, "socket", SimpleNamespace(create_connection=door))
    monkeypatch.setattr(sending, "timezone", SimpleNamespace(now=lambda: NOW))
    return queue


@pytest.mark.parametrize(
    ("broker", "door"),
    [
        ("embedded", None),
        ("redis://queue.example:7000/0", ("queue.example", 7000)),
        ("redis://queue.example/0", ("queue.example", 6379)),
        ("memory://", None),
    ],
)
def test_an_id_is_put_on_the_queue_and_noted_in_its_row(job, queue, settings, tmp_path, broker, door):
    settings.HELMROOM_BROKER, settings.DATA_DIR = broker, tmp_path / "data"
    for _ in range(2):
        send_job(job.pk)
    assert queue.sent == [("planning.run_job", [job.pk])] * 2
    assert queue.knocked == ([(door, 0.2)] * 2 if door else []) and queue.closed == len(queue.knocked)
    assert queue.said == ([0.2, b"PING\r\n"] * 2 if door else []), (
        "a queue that hangs takes connections and says nothing"
    )
    assert (tmp_path / "data" / "broker" / "control").is_dir() is (broker == "embedded")
    assert Job.objects.get(pk=job.pk).sent_at == NOW


@pytest.mark.parametrize(
    ("broker", "life", "answers", "knocks"),
    [
        ("embedded", b"", True, 0),
        ("redis://queue.example/0", b"+PONG\r\n", True, 1),
        ("redis://queue.example/0", b"-NOAUTH\r\n", True, 1),
        ("redis://queue.example/0", b"", False, 1),
    ],
)
def test_whoever_runs_the_server_hears_whether_the_queue_gives_a_sign_of_life(
    queue, settings, broker, life, answers, knocks
):
    settings.HELMROOM_BROKER, queue.life = broker, life
    assert queue_answers() is answers and len(queue.knocked) == knocks and queue.sent == []


def test_a_queue_that_cannot_be_reached_does_not_answer(queue, settings, monkeypatch):
    settings.HELMROOM_BROKER = "redis://queue.example/0"

    def nobody(*_, **__):
        raise TimeoutError("nobody came to the door")

    monkeypatch.setattr(sending, "socket", SimpleNamespace(create_connection=nobody))
    assert queue_answers() is False


def test_what_could_not_be_sent_is_not_noted_as_sent(job, queue, settings, monkeypatch):
    settings.HELMROOM_BROKER = "redis://queue.example/0"

    def nobody(*_, **__):
        raise ConnectionError("refused")

    monkeypatch.setattr(sending, "socket", SimpleNamespace(create_connection=nobody))
    with pytest.raises(ConnectionError):
        send_job(job.pk)
    assert queue.sent == [] and Job.objects.get(pk=job.pk).sent_at is None


def test_who_asks_the_same_at_the_same_moment_gets_the_row_of_the_quicker(db, monkeypatch):
    monkeypatch.setattr(asking, "send_job", lambda pk: None)
    club = make.ClubFactory()
    first = ask_for_job(club, "plan_course", {"a": 1}, now=NOW)
    rows = type(Job.objects.answering(club, "", ""))
    monkeypatch.setattr(rows, "first", lambda self: None)  # it was not there yet a moment ago
    assert ask_for_job(club, "plan_course", {"a": 1}, now=NOW) == first
    assert Job.objects.filter(club=club).count() == 1
