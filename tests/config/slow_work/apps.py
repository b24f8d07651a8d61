from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

from django.apps import AppConfig


def count_slowly(job_input: dict[str, Any], progress: Any) -> dict[str, Any]:
    from motion.errors import CancelledError, DeadlineError

    with Path(job_input["diary"]).open("a") as diary:
        diary.write(f"{os.getpid()}\n")
    for step in range(job_input["steps"]):
        progress.tell(step / job_input["steps"], f"step {step}")
        time.sleep(job_input["pause_s"])
        if job_input.get("deaf"):
            continue
        if progress.stopped():
            raise CancelledError("cancelled", "Stopped.")
        if progress.seconds_left() < 0:
            raise DeadlineError("deadline", "Out of time.")
    return {"counted": job_input["steps"]}


class SlowWorkConfig(AppConfig):
    name = "tests.config.slow_work"

    def ready(self) -> None:
        from planning.jobs.kinds import KINDS, Kind

        KINDS["count_slowly"] = Kind(count_slowly, lambda job, result, now: None)
