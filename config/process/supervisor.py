"""Keeps one worker process alive and sweeps the jobs. Used by ``start`` (beside the web server) and by ``work``.

Before the worker come chores: commands that are done once, such as compiling the kernels, each in a process of its own
whose memory is free again when it ends. Jobs that are asked for meanwhile wait in their rows.

The worker is a child that holds the reading end of a pipe (its standard input): when this process ends, however it
ends, the pipe does too and the worker follows. Nothing is orphaned.
"""

from __future__ import annotations

import datetime as dt
import logging
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db import close_old_connections, connection
from django.utils import timezone

from classroom.site.database_away import is_away
from config.process.nightly import Nightly
from planning.jobs.services.family_letters import ask_for_letters
from planning.jobs.services.sweep_jobs import sweep_jobs
from planning.models import Job

log = logging.getLogger(__name__)

MANAGE = Path(settings.BASE_DIR) / "manage.py"
#: Between restarts of a worker that keeps ending at once.
LONGEST_PAUSE_S = 20.0
#: How often it is looked whether a chore is done.
CHORE_LOOK_S = 0.2


@dataclass(frozen=True)
class Chore:
    """A command of ``manage.py`` that is done before the worker starts, if it is ``wanted`` when its turn comes.

    One that fails is tried ``tries`` times in all; then ``give_up`` is called, and what comes after it goes on.
    """

    command: str
    wanted: Callable[[], bool]
    give_up: Callable[[], object]
    tries: int = 1


class Supervisor:
    """
    Parameters
    ----------
    pool
        ``"solo"``: one job at a time in the child itself; ``"prefork"``: ``workers`` of its children.
    chores
        Done one after the other before the worker starts.
    copies
        Where daily copies of the database go; None for none.
    """

    def __init__(
        self, pool: str = "solo", workers: int | None = None, chores: Sequence[Chore] = (), copies: Path | None = None
    ) -> None:
        self.pool = pool
        self.workers = workers
        self._chores = list(chores)
        self._tried = 0
        self._at_chore = bool(chores)
        self._end = threading.Event()
        self._child: subprocess.Popen[bytes] | None = None
        self._born = 0.0
        self._born_at = timezone.now()
        self._silent: dict[tuple[int, int], float] = {}
        self._pause_s = 0.0
        self._thread: threading.Thread | None = None
        self._nightly = Nightly(copies)

    def start(self) -> None:
        """Run beside the caller's own work until :meth:`stop`."""
        self._thread = threading.Thread(target=self.run, name="supervisor", daemon=True)
        self._thread.start()

    def run(self) -> None:
        """Watch and sweep until asked to end."""
        try:
            while not self._end.is_set():
                self._look_after_child()
                self._sweep()
                if not self._at_chore:
                    self._nightly.look(timezone.now())
                self._wait()
        finally:
            connection.close()
            self._end_child()

    def stop(self) -> None:
        self._end.set()
        if self._thread is not None:
            self._thread.join(timeout=15)

    def ask_to_end(self) -> None:
        """End :meth:`run` soon. Not from a signal handler itself: it takes a lock (``ending.ask_on_signals``)."""
        self._end.set()

    def _wait(self) -> None:
        """Until the next sweep; less when a chore is done before that."""
        ends = time.monotonic() + settings.HELMROOM_JOB_SWEEP_S
        while (left := ends - time.monotonic()) > 0:
            if self._end.wait(min(left, CHORE_LOOK_S) if self._at_chore else left):
                return
            if self._at_chore and self._child is not None and self._child.poll() is not None:
                return

    def _look_after_child(self) -> None:
        if self._child is not None and self._child.poll() is None:
            return
        if self._at_chore and self._next_chore():
            return
        if self._child is not None:
            lived = time.monotonic() - self._born
            self._pause_s = 0.0 if lived > 30 else min(max(1.0, self._pause_s * 2), LONGEST_PAUSE_S)
            log.warning("The worker ended (%s); starting another.", self._child.returncode)
            self._child = None
            if self._end.wait(self._pause_s):
                return
        self._bear("work", "--pool", self.pool, *self._crew())

    def _next_chore(self) -> bool:
        """Start what is to be done next; False when all is done that comes before the worker."""
        if self._child is not None:
            failed, self._child = self._child.returncode != 0, None
            if failed and self._tried < self._chores[0].tries:
                log.warning("“manage.py %s” did not work; trying again.", self._chores[0].command)
            else:
                done = self._chores.pop(0)
                self._tried = 0
                if failed:
                    log.warning("“manage.py %s” did not work; what it said is above.", done.command)
                    done.give_up()
        while self._chores and not self._chores[0].wanted():
            self._chores.pop(0)
        self._at_chore = bool(self._chores)
        if self._at_chore:
            self._tried += 1
            self._bear(self._chores[0].command)
        return self._at_chore

    def _bear(self, *arguments: str) -> None:
        self._born, self._born_at = time.monotonic(), timezone.now()
        self._child = subprocess.Popen(
            [sys.executable, str(MANAGE), *arguments, "--child"],
            stdin=subprocess.PIPE,
            start_new_session=os.name == "posix",  # Ctrl-C reaches the parent only, which then ends the child in order
        )

    def _crew(self) -> list[str]:
        return ["--workers", str(self.workers)] if self.workers else []

    def _sweep(self) -> None:
        try:
            now = timezone.now()
            if self.pool == "solo" and not self._at_chore and self._worker_hangs(now):
                self._kill_child()
            sweep_jobs(now=now)
            ask_for_letters(now=now)
        except Exception as error:
            if is_away(error):
                log.warning("The database is away; the next sweep tries again. %s", str(error).strip())
            else:
                log.exception("A sweep did not work; the next one tries again.")
            close_old_connections()

    def _worker_hangs(self, now: dt.datetime) -> bool:
        """Whether the worker runs past a deadline, or has not renewed a lease for a lease's time by our own clock.

        By the clock on the wall alone it would seem so each time that a laptop has slept.
        """
        if Job.objects.overdue(now).exists():
            log.warning("A job runs past its deadline; its worker is ended and another started.")
            return True
        seen = time.monotonic()
        self._born_at = min(self._born_at, now)  # the clock may have been put back
        silent = Job.objects.silent(now).filter(started_at__range=(self._born_at, now)).values_list("pk", "token")
        self._silent = {hold: self._silent.get(hold, seen) for hold in silent}
        if any(seen - since > settings.HELMROOM_JOB_LEASE_S for since in self._silent.values()):
            log.warning("The worker gives no sign of life; it is ended and another started.")
            self._silent = {}
            return True
        return False

    def _kill_child(self) -> None:
        if self._child is not None:
            kill_tree(self._child)

    def _end_child(self) -> None:
        child = self._child
        if child is None or child.poll() is not None:
            return
        assert child.stdin is not None
        child.stdin.close()
        try:
            child.wait(timeout=5)
        except subprocess.TimeoutExpired:
            kill_tree(child)


def kill_tree(child: subprocess.Popen[bytes]) -> None:
    """End a child and, where it leads a group of its own, all of that."""
    if os.name == "posix":
        try:
            os.killpg(child.pid, signal.SIGKILL)
        except ProcessLookupError:
            pass
    else:
        child.kill()
    child.wait()


def follow_parent() -> None:
    """In the child: end with the parent. Its held jobs are taken up again when their leases run out."""

    def wait_for_the_end() -> None:
        while os.read(0, 1):
            pass
        if os.name == "posix" and os.getpgid(0) == os.getpid():
            os.killpg(os.getpid(), signal.SIGKILL)
        os._exit(0)

    threading.Thread(target=wait_for_the_end, name="parent", daemon=True).start()
