"""What a picture of twelve million pixels costs: processor time, and memory above what a web process has anyway."""

from __future__ import annotations

import functools
import json
import subprocess
import sys

import numpy as np

from benchmarks.figures import Figure
from benchmarks.picture_table import taken

SIZE_PX = (4000, 3000)
#: Run in a process of its own, so that the peak is that of one picture: loaded as a web process is, then measured.
ALONE = """
import json, sys, time
from pathlib import Path
import django
django.setup()
import config.urls
from motion.picture.camera.measured import measure_table
from motion.picture.camera.robot_pose import see_robot
from classroom.club.marks.decode import greys_of
from classroom.club.marks.find import find_marks
from benchmarks.picture_table import LAID, ROBOT, TABLE_MM
data = sys.stdin.buffer.read()
def peak():
    status = Path("/proc/self/status").read_text()
    return int(next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1]) / 1024
before, took = peak(), []
for _ in range(3):
    begun = time.process_time()
    greys = greys_of(data)
    seen = find_marks(greys)
    table = measure_table(LAID, seen, greys.shape[::-1], *TABLE_MM)
    see_robot(table, ROBOT, next(mark for mark in seen if mark.number == ROBOT.number))
    table.sure_to_mm(*TABLE_MM)
    took.append(time.process_time() - begun)
print(json.dumps({"first": took[0], "later": min(took[1:]), "memory": peak() - before}))
"""


@functools.lru_cache(maxsize=1)
def alone() -> dict[str, float]:
    """One picture, measured three times in a process of its own."""
    _, _, data = taken(np.random.default_rng(12), SIZE_PX)
    answer = subprocess.run([sys.executable, "-c", ALONE], input=data, capture_output=True, check=True, timeout=600)
    return json.loads(answer.stdout.splitlines()[-1])


def seconds() -> Figure:
    """Processor time of the first picture of a process, libraries loaded for it included."""
    found = alone()
    return Figure(found["first"], "s", 1.0, f"of the process; {found['later']:.2f} s from the second picture on")


def memory() -> Figure:
    """Most memory while three pictures were measured, above what the process had before."""
    return Figure(alone()["memory"], "MB", 150.0, "peak of the process, libraries for pictures included")


FIGURES = {"picture.seconds": seconds, "picture.memory": memory}
