"""The background worker: on a server a command of its own, on a laptop a child of ``start``."""

from __future__ import annotations

import logging
import os
import warnings
from argparse import ArgumentParser
from typing import Any

from celery.platforms import SecurityWarning
from django.core.management.base import BaseCommand
from django.db import connection

from config.celery import app
from config.process.chores import compiling_chore
from config.process.ending import ask_on_signals
from config.process.supervisor import Supervisor, follow_parent
from config.process.warm import load_all
from planning.courses.services.check_kept import check_kept_courses
from planning.preparing.kernels import are_compiled

log = logging.getLogger(__name__)

#: Somebody waits for a page and looks on; a job has a bar. So pages go first on a processor that both want.
NICE = 10


class Command(BaseCommand):
    help = "Do background jobs: keeps a worker alive and sends again what was lost. Ends on Ctrl-C or SIGTERM."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--pool", choices=["prefork", "solo"], default="prefork" if os.name == "posix" else "solo")
        parser.add_argument("--workers", type=int, default=None, help="Processes at work at once (default: all cores).")
        parser.add_argument("--child", action="store_true", help="Be the worker itself (used by the supervisor).")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["child"]:
            be_the_worker(options["pool"], options["workers"])
            return
        supervisor = Supervisor(options["pool"], options["workers"], chores=[compiling_chore()])
        ask_on_signals(supervisor.ask_to_end)
        self.stdout.write("Working. Ctrl-C ends it.")
        supervisor.run()


def load_kernels() -> None:
    """Now, so that the first job does not wait for them, and what was kept unchecked before has its check.

    Whatever is wrong with them, a job says it better.
    """
    if not are_compiled():
        return  # compiling them did not work; the first job tries it, and says what is wrong
    try:
        load_all()
        check_kept_courses()
    except Exception:
        log.exception("The planner's kernels could not be loaded beforehand.")
    finally:
        connection.close()  # the pool's own processes open theirs


def be_the_worker(pool: str, workers: int | None) -> None:
    follow_parent()
    if os.name == "posix":
        os.nice(NICE)
    load_kernels()
    # It takes JSON from its own queue only, so that being root, as in a container, adds no danger of code in messages.
    warnings.filterwarnings("ignore", category=SecurityWarning)
    app.Worker(
        hostname=f"helmroom-{os.getpid()}@localhost",
        pool=pool,
        concurrency=1 if pool == "solo" else workers,
        loglevel="WARNING",
        without_gossip=True,
        without_mingle=True,
        without_heartbeat=True,
        quiet=True,
    ).start()
