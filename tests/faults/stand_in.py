"""What stands in for slow things in the houses: planning takes ``FAULTS_JOB_S`` and finds nothing, compiling takes no time,
and the clock can be moved. With ``FAULTS_BUSY`` planning is so much time of a processor, and not of the clock on the wall.

``FAULTS_CONTROL`` is a folder through which a fault speaks to the house's processes:

``clock_ahead_s``   so far ahead is the clock of every process of the house (``timezone.now`` and ``time.time``)
``poisoned``        a team's number: who plans for it is killed at once
``deaf``            while it is there, work neither hears that it is to stop nor looks at the clock
``diary``           a line for each beginning of a work: team, aim, alternatives, process
"""

from __future__ import annotations

import datetime as dt
import json
import os
import signal
import time
from pathlib import Path
from typing import Any

from django.apps import AppConfig
from django.utils import timezone

#: What a kept result writes into the club's log, once a job.
KEPT = "kept what was planned"
STEP_S = 0.1


def control() -> Path:
    return Path(os.environ["FAULTS_CONTROL"])


def plan_slowly(job_input: dict[str, Any], progress: Any) -> dict[str, Any]:
    from motion.errors import CancelledError

    line = [job_input["team"], job_input["aim"], job_input["alternatives"], os.getpid()]
    with (control() / "diary").open("a") as diary:
        diary.write(json.dumps(line) + "\n")
    if _read("poisoned") == str(job_input["team"]):
        os.kill(os.getpid(), signal.SIGKILL)
    steps = round(float(os.environ["FAULTS_JOB_S"]) / STEP_S)
    for step in range(steps):
        progress.tell(step / steps, "Looking for ways")
        (_be_busy if os.environ.get("FAULTS_BUSY") else time.sleep)(STEP_S)
        if progress.stopped() and not (control() / "deaf").exists():
            raise CancelledError("cancelled", "Stopped.")
    return {"courses": []}


def _be_busy(seconds: float) -> None:
    """Processor time, as planning takes it, and not time on the wall."""
    ends = time.process_time() + seconds
    while time.process_time() < ends:
        pass


def keep_once(job: Any, result: dict[str, Any], now: dt.datetime) -> None:
    from classroom.club.services.audit import note_in_audit

    note_in_audit(job.club, None, KEPT, f"job:{job.pk}", now=now)


def compile_at_once(tell: Any) -> None:
    from planning.preparing.kernels import begun_file, stamp_file, stamp_text, write_whole

    for file in (begun_file(), stamp_file()):
        write_whole(file, stamp_text())
    tell(1, 1)


def _read(name: str) -> str:
    file = control() / name
    return file.read_text().strip() if file.exists() else ""


def _move_the_clock() -> None:
    now, seconds = timezone.now, time.time

    def ahead_s() -> float:
        return float(_read("clock_ahead_s") or 0)

    timezone.now = lambda: now() + dt.timedelta(seconds=ahead_s())
    time.time = lambda: seconds() + ahead_s()


class StandInConfig(AppConfig):
    name = "tests.faults"

    def ready(self) -> None:
        import config.process.warm as warm
        from planning.jobs.kinds import KINDS, PLAN_COURSE, Kind

        KINDS[PLAN_COURSE] = Kind(plan_slowly, keep_once)
        warm.compile_all = compile_at_once
        warm.load_all = warm.warm_up_checks = lambda: None
        _move_the_clock()
