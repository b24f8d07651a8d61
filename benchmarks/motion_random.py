"""The planner on scenes nobody chose: processor seconds of every aim, and whether an aim is beaten at its own."""

from __future__ import annotations

import time
from functools import cache

import numpy as np

from benchmarks.figures import Figure, percentile
from benchmarks.random_scenes import kind_of, random_scene
from motion.course.actions import PlannedCourse
from motion.errors import NoCourseError
from motion.search.plan import plan_courses
from motion.search.pool import HARDLY
from tests.oracles.judge import judge_course

TIMED, COMPARED = 60, 100


@cache
def _timed(aim: str, exact: bool) -> tuple[tuple[int, float, bool], ...]:
    """Of every scene its number, the processor seconds of an answer, and whether there was a course."""
    plan_courses(random_scene(0), "fastest")  # kernels loaded
    found = []
    for number in range(TIMED):
        scene, begun = random_scene(number), time.process_time()
        try:
            plan_courses(scene, aim, exact=exact)
        except NoCourseError:
            found.append((number, time.process_time() - begun, False))
        else:
            found.append((number, time.process_time() - begun, True))
    return tuple(found)


def _seconds(aim: str, exact: bool, solved: bool) -> list[float]:
    return [seconds for _, seconds, there in _timed(aim, exact) if there == solved]


def _median(aim: str, exact: bool, bar: float) -> Figure:
    seconds = _seconds(aim, exact, True)
    return Figure(float(np.median(seconds)), "s", bar, f"{len(seconds)} of {TIMED} random scenes that can be done")


def _p95(aim: str, exact: bool, bar: float) -> Figure:
    slowest = sorted(((s, n) for n, s, there in _timed(aim, exact) if there), reverse=True)[:4]
    note = "slowest: " + ", ".join(f"{kind_of(n)} {s:.1f} s" for s, n in slowest)
    return Figure(percentile(_seconds(aim, exact, True), 0.95), "s", bar, note)


def no_time() -> Figure:
    seconds = _seconds("fastest", False, False)
    return Figure(percentile(seconds, 0.95), "s", 3.0, f"p95 of {len(seconds)} refusals; slowest {max(seconds):.1f} s")


def _beats(course: PlannedCourse, fast: PlannedCourse, simple: PlannedCourse) -> bool:
    quicker = course.check.duration_s * (1 + HARDLY) + 1e-9 < fast.check.duration_s
    here = len(course.actions), course.check.duration_s * (1 + HARDLY) + 1e-9
    return quicker or here < (len(simple.actions), simple.check.duration_s)


def beaten() -> Figure:
    """How often fastest or simplest is beaten by a course of any aim in the same or coarser steps."""
    short, unclear, compared = [], 0, 0
    for number in range(COMPARED):
        known: list[PlannedCourse] = []
        for step, exact in ((5.0, False), (1.0, False), (1.0, True)):
            scene = random_scene(number, step)
            try:
                courses = plan_courses(scene, "all", exact=exact)
            except NoCourseError:
                if known:
                    short.append(f"{number} (none in finer steps)")
                continue
            known += courses
            compared += 1
            _, fast, simple = courses
            unclear += sum(not judge_course(scene, c.start, c.actions).clear for c in courses)
            if any(_beats(course, fast, simple) for course in known):
                short.append(f"{number} ({'exact' if exact else f'{step:g} deg'})")
    note = f"of {compared} plans for all aims; not clear to the second judge: {unclear}; beaten: {', '.join(short)}"
    return Figure(len(short) + unclear, "plans", 0, note)


FIGURES = {
    "motion.random_fastest_median": lambda: _median("fastest", False, 0.5),
    "motion.random_fastest_p95": lambda: _p95("fastest", False, 2.0),
    "motion.random_exact_median": lambda: _median("fastest", True, 0.5),
    "motion.random_exact_p95": lambda: _p95("fastest", True, 2.0),
    "motion.random_steadiest_median": lambda: _median("steadiest", False, 3.0),
    "motion.random_steadiest_p95": lambda: _p95("steadiest", False, 8.0),
    "motion.random_no": no_time,
    "motion.random_beaten": beaten,
}
