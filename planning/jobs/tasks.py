"""What the queue calls: a service; the rows are the truth."""

from __future__ import annotations

from celery import shared_task

from planning.jobs.services.run_job import run_next_job
from planning.jobs.services.send_job import TASK


@shared_task(name=TASK)
def run(job_pk: int) -> None:
    """A message tells that there is work. Which job comes next, the rows say; ``job_pk`` is for whoever looks into a queue."""
    run_next_job()
