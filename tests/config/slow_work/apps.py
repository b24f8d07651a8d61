"""What stands in for slow things in the worker processes of the tests: a kind of job, compiling the kernels, the demonstration's term."""

from __future__ import annotations

import os
import time
import weakref
from collections.abc import Callable
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


def compile_slowly(tell: Any) -> None:
    """As ``config.process.warm.compile_all``, in HELMROOM_TEST_COMPILE_S seconds and without compiling.

    While the file HELMROOM_TEST_HOLD is there it does not come to its end, so that a test can look at the site meanwhile.
    """
    from planning.preparing.kernels import begun_file, stamp_file, stamp_text, write_whole

    write_whole(begun_file(), stamp_text())
    hold = Path(os.environ.get("HELMROOM_TEST_HOLD", "no such file"))
    for step in range(10):
        tell(step, 10)
        time.sleep(float(os.environ.get("HELMROOM_TEST_COMPILE_S", "0")) / 10)
    while hold.exists():
        tell(9, 10)
        time.sleep(0.1)
    write_whole(stamp_file(), stamp_text())


def hold_the_term(play_week: Callable[..., None]) -> Callable[..., None]:
    """As ``TermPlayer._week``, whose third week does not begin while the file HELMROOM_TEST_HOLD, with “-term” at its end, is there."""
    hold = Path(os.environ.get("HELMROOM_TEST_HOLD", "no such file") + "-term")

    def week_once_let(player: Any, story: Any, week: int) -> None:
        while week > 2 and hold.exists():
            time.sleep(0.1)
        play_week(player, story, week)

    return week_once_let


def freeze_after_a_callback(freeze: Callable[[], None]) -> Callable[[], None]:
    """As ``freeze_what_is_loaded``, after a weak reference's callback that lasts while HELMROOM_TEST_HOLD, with “-callback”, is there.

    Python drops what is raised in such a callback; imports have them, so that a signal can meet one.
    """
    hold = Path(os.environ.get("HELMROOM_TEST_HOLD", "no such file") + "-callback")

    def wait(_: object) -> None:
        while hold.exists():
            hold.with_suffix(".begun").touch()
            time.sleep(0.1)

    def freeze_once_let() -> None:
        let_go: set[int] = set()
        held = weakref.ref(let_go, wait)
        del let_go  # here ``wait`` is called
        assert held() is None
        freeze()

    return freeze_once_let


class SlowWorkConfig(AppConfig):
    name = "tests.config.slow_work"

    def ready(self) -> None:
        import config.process.garbage as garbage
        import config.process.warm as warm
        from config.demo.term import TermPlayer
        from planning.jobs.kinds import KINDS, Kind

        KINDS["count_slowly"] = Kind(count_slowly, lambda job, result, now: None)
        warm.compile_all = compile_slowly
        warm.load_all = warm.warm_up_checks = lambda: None
        garbage.freeze_what_is_loaded = freeze_after_a_callback(garbage.freeze_what_is_loaded)
        TermPlayer._week = hold_the_term(TermPlayer._week)  # type: ignore[method-assign]
