"""Putting a job's id on the queue. A lost or doubled message does no harm: the row says what is to be done."""

from __future__ import annotations

import socket
from urllib.parse import urlsplit

from celery import current_app
from django.conf import settings
from django.utils import timezone

from planning.models import Job

#: The task's name on the queue, for the web process that sends and the worker that runs.
TASK = "planning.run_job"
#: So long a request waits at most to hear whether the queue answers. The sweep sends later what could not be sent.
KNOCK_S = 0.4


def send_job(job_pk: int) -> None:
    """Send the id, and note in the row that it was sent.

    Raises whatever the queue raises; the caller's request must not fail for it (``on_commit(..., robust=True)``), and
    the sweep sends again what was not noted as sent.
    """
    if settings.HELMROOM_BROKER == "embedded":
        (settings.DATA_DIR / "broker" / "control").mkdir(parents=True, exist_ok=True)
    else:
        _knock(settings.HELMROOM_BROKER)
    current_app.send_task(TASK, args=[job_pk])  # by name: the task itself calls services that end up here
    Job.objects.filter(pk=job_pk).update(sent_at=timezone.now())


def queue_answers() -> bool:
    """For whoever runs the server. A laptop's queue is its own disk."""
    try:
        if settings.HELMROOM_BROKER != "embedded":
            _knock(settings.HELMROOM_BROKER)
    except OSError:
        return False
    return True


def _knock(broker: str) -> None:
    """Raise soon when nobody answers. The queue's own library would try for ten seconds, with a coach waiting.

    A queue that hangs still takes connections; so it is asked for a sign of life, whatever it says.
    """
    where = urlsplit(broker)
    if not where.hostname:
        return
    with socket.create_connection((where.hostname, where.port or 6379), timeout=KNOCK_S / 2) as line:
        if where.scheme == "redis":
            line.settimeout(KNOCK_S / 2)
            line.sendall(b"PING\r\n")  # an inline command (Redis serialization protocol specification)
            if not line.recv(1):
                raise ConnectionError("The queue hangs up.")
