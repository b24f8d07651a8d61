"""What the queue calls. Each takes an id and calls a service; the row is the truth."""

from __future__ import annotations

from celery import shared_task

from planning.jobs.services.run_job import run_job
from planning.jobs.services.send_job import TASK


@shared_task(name=TASK)
def run(job_pk: int) -> None:
    run_job(job_pk)
