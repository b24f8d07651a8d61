"""What the queue calls: a service; the rows are the truth."""

from __future__ import annotations

import logging

from celery import shared_task
from django.db import DatabaseError, InterfaceError, connection

from classroom.site.database_away import is_away
from planning.jobs.services.run_job import run_next_job
from planning.jobs.services.send_job import TASK

log = logging.getLogger(__name__)


@shared_task(name=TASK)
def run(job_pk: int) -> None:
    """A message tells that there is work. Which job comes next, the rows say; ``job_pk`` is for whoever looks into a queue."""
    try:
        run_next_job()
    except (DatabaseError, InterfaceError) as error:
        if not is_away(error):
            raise
        log.warning("The database is away; the sweep sends again what was not done. %s", str(error).strip())
        connection.close()
