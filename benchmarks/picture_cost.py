"""What a picture of twelve million pixels costs the process that measures: processor time, and memory."""

from __future__ import annotations

import functools
import time
from pathlib import Path

import numpy as np

from benchmarks.figures import Figure
from benchmarks.picture_table import LAID, ROBOT, TABLE_MM, taken
from classroom.club.marks.find import marks_in
from classroom.club.marks.measurer import Measurer
from motion.picture.camera.measured import measure_table
from motion.picture.camera.robot_pose import see_robot

SIZE_PX = (4000, 3000)


@functools.lru_cache(maxsize=1)
def alone() -> dict[str, float]:
    """One picture, measured three times by a process of its own; from its start on."""
    _, _, data = taken(np.random.default_rng(12), SIZE_PX)
    measurer = Measurer(600.0)
    used = [0.0]
    try:
        measurer.ask(time.process_time)  # it is there, and has loaded nothing for pictures yet
        before = _megabytes(measurer, "VmRSS")
        for _ in range(3):
            seen, size_px = measurer.ask(marks_in, data)
            table = measurer.ask(measure_table, LAID, seen, size_px, *TABLE_MM)
            measurer.ask(see_robot, table, ROBOT, next(mark for mark in seen if mark.number == ROBOT.number))
            used.append(measurer.ask(time.process_time))
        peak = _megabytes(measurer, "VmHWM")
    finally:
        measurer.end()
    return {"first": used[1], "later": min(np.diff(used[1:])), "memory": peak - before, "whole": peak}


def _megabytes(measurer: Measurer, what: str) -> float:
    status = Path(f"/proc/{measurer.pid}/status").read_text()
    return int(next(line for line in status.splitlines() if line.startswith(what)).split()[1]) / 1024


def seconds() -> Figure:
    """Processor time of the first picture of a process, its start and the libraries included."""
    found = alone()
    return Figure(found["first"], "s", 1.0, f"of the process; {found['later']:.2f} s from the second picture on")


def memory() -> Figure:
    """Most memory while three pictures were measured, above that of the process before its first one."""
    found = alone()
    note = f"libraries for pictures included; the whole process {found['whole']:.0f} MB"
    return Figure(found["memory"], "MB", 150.0, note)


FIGURES = {"picture.seconds": seconds, "picture.memory": memory}
