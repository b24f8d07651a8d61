"""The search on the ten sample scenes: how good, how fast, how much memory, how it grows.

A phase is one way out or one way home. Times are processor seconds of the one thread that works, the better of two
runs: on an idle core that is the wall clock's time, on a shared one it still says what the search takes.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from benchmarks.figures import Figure, percentile
from benchmarks.plain_rounding import rounded_one_by_one
from benchmarks.planned_courses import SCENES
from motion.scene.files import read_scene
from motion.scene.records import Obstacle, Scene
from motion.search.parts import Part, PartFinder
from motion.search.phases import Caution, push_end
from tests.oracles.judge import judge_course

ROOT = Path(__file__).parents[1]


def _finder(scene: Scene) -> PartFinder:
    return PartFinder(scene, exact=True, seed=0, tick=lambda: None)


def timed_phases(scene: Scene) -> tuple[Part, Part, float, float]:
    """The fastest exact way out and home, and the processor seconds each search took (better of two)."""
    found: list[tuple[Part, float]] = []
    for search in (
        lambda finder: finder.outs(Caution()),
        lambda finder: finder.homes(Caution(), push_end(scene)),
    ):
        seconds = []
        for _ in range(2):
            finder = _finder(scene)
            begun = time.process_time()
            parts = search(finder)
            seconds.append(time.process_time() - begun)
        found.append((parts[0], min(seconds)))
    (out, out_s), (home, home_s) = found
    return out, home, out_s, home_s


@cache
def _all() -> list[tuple[Scene, Part, Part, float, float]]:
    scenes = [read_scene(path.read_bytes()) for path in SCENES]
    timed_phases(scenes[0])  # kernels loaded
    return [(scene, *timed_phases(scene)) for scene in scenes]


def _ratio(scene: Scene, out: Part, home: Part) -> float:
    assert scene.best_known is not None
    return (out.seconds + home.seconds) / (scene.best_known["outbound_s"] + scene.best_known["return_s"])


def solved() -> Figure:
    clear = sum(judge_course(s, out.start, (*out.actions, *home.actions)).clear for s, out, home, *_ in _all())
    return Figure(clear, "scenes", 10, "of ten solved and clear to the independent judge", at_least=True)


def close_to_best() -> Figure:
    close = sum(_ratio(s, out, home) <= 1.005 for s, out, home, *_ in _all())
    return Figure(close, "scenes", 9, "of ten with out + home within 0.5 % of the best known", at_least=True)


def worst_ratio() -> Figure:
    ratios = [_ratio(s, out, home) for s, out, home, *_ in _all()]
    note = "out + home over best known, worst scene; all: " + " ".join(f"{r:.4f}" for r in ratios)
    return Figure(max(ratios), "ratio", 1.02, note)


def _phase_seconds() -> list[float]:
    return [seconds for *_, out_s, home_s in _all() for seconds in (out_s, home_s)]


def median() -> Figure:
    return Figure(float(np.median(_phase_seconds())), "s", 0.25, "a phase, warm, processor time, 20 phases")


def p95() -> Figure:
    return Figure(percentile(_phase_seconds(), 0.95), "s", 0.6, "a phase, warm, processor time, 20 phases")


_COLD = """
import json, resource, sys, time
begun = time.process_time()
from motion.scene.files import read_scene
from motion.search.plan import plan_courses
scene = read_scene(open(sys.argv[1], "rb").read())
plan_courses(scene, sys.argv[2])
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps([time.process_time() - begun, peak]))
"""


def _in_new_process(aim: str) -> tuple[float, float]:
    """Processor seconds from nothing to a course, and the peak of resident memory (MB)."""
    command = [sys.executable, "-c", _COLD, str(SCENES[3]), aim]
    runs = [json.loads(subprocess.run(command, cwd=ROOT, check=True, capture_output=True).stdout) for _ in range(2)]
    return min(r[0] for r in runs), max(r[1] for r in runs)


def cold() -> Figure:
    seconds, _ = _in_new_process("fastest")
    return Figure(
        seconds, "s", 3.0, "new process to a rounded, checked course, kernels compiled before; processor time"
    )


def memory() -> Figure:
    _, peak = _in_new_process("steadiest")
    return Figure(peak, "MB", 400.0, "peak resident memory of a process that plans the steadiest course")


def check_time() -> Figure:
    from motion.check import check_course

    scene, out, home, *_ = _all()[3]
    actions = (*out.actions, *home.actions)
    check_course(scene, out.start, actions)
    seconds = []
    for _ in range(5):
        begun = time.process_time()
        check_course(scene, out.start, actions)
        seconds.append(time.process_time() - begun)
    return Figure(min(seconds), "s", 0.150, f"check_course, {len(actions)} actions, 20,000 simulated runs, warm")


def steadiest_time() -> Figure:
    from motion.search.plan import plan_courses

    seconds = []
    for path in SCENES:
        scene = read_scene(path.read_bytes())
        begun = time.process_time()
        plan_courses(scene, "steadiest")
        seconds.append(time.process_time() - begun)
    note = f"median of ten scenes, the whole job in whole steps; worst {max(seconds):.2f} s"
    return Figure(float(np.median(seconds)), "s", None, note)


def rounding() -> Figure:
    """How many scenes fail when every number is rounded by itself, and when all are rounded jointly."""
    notes, jointly_failed = [], 0
    for step in (1.0, 5.0):
        alone = joint = 0
        dearer = []
        for scene, out, home, *_ in _all():
            robot = replace(scene.robot, turn_step_deg=step)
            coarse = replace(scene, robot=robot)
            naive = rounded_one_by_one((*out.actions, *home.actions), out.start, robot)
            alone += not judge_course(coarse, out.start, naive).clear
            whole = _jointly(coarse)
            if whole is None or not judge_course(coarse, whole[0].start, (*whole[0].actions, *whole[1].actions)).clear:
                joint += 1
            else:
                dearer.append((whole[0].seconds + whole[1].seconds) / (out.seconds + home.seconds) - 1)
        jointly_failed += joint
        notes.append(f"1 cm and {step:g} deg: by itself {alone} of 10, jointly {joint}, {np.median(dearer):+.1%} time")
    return Figure(jointly_failed, "scenes", 0, "courses not clear after rounding; " + "; ".join(notes))


def _jointly(scene: Scene) -> tuple[Part, Part] | None:
    from motion.search.wholes import first_homes, first_outs

    finder = PartFinder(scene, exact=False, seed=0, tick=lambda: None)
    for out in first_outs(finder, Caution()):
        homes = first_homes(finder, Caution(), out.end)
        if homes:
            return out, homes[0]
    return None


def _crowded(count: int) -> Scene:
    """Sample scene 8 with small posts strewn where its target and start leave room; the same posts first each time."""
    scene = read_scene(SCENES[4].read_bytes())
    rng = np.random.default_rng(5)
    posts: list[Obstacle] = []
    keep = [(120.0, 120.0), (scene.target.precontact.x_mm, scene.target.precontact.y_mm)]
    while len(posts) < count:
        x, y = rng.uniform([60, 60], [2340, 1140])
        if (x > 600 or y > 520) and all(np.hypot(x - a, y - b) > 420 for a, b in keep):
            posts.append(Obstacle(((x, y), (x + 16, y), (x + 16, y + 16), (x, y + 16))))
    return replace(scene, obstacles=tuple(posts))


def _stretched(factor: float) -> Scene:
    """Sample scene 8 with everything but robot, base and target's size farther apart."""
    scene = read_scene(SCENES[4].read_bytes())
    target = scene.target
    dx, dy = (factor - 1) * target.precontact.x_mm, (factor - 1) * target.precontact.y_mm
    pose = replace(target.precontact, x_mm=target.precontact.x_mm + dx, y_mm=target.precontact.y_mm + dy)
    moved = replace(target, precontact=pose, body=tuple((x + dx, y + dy) for x, y in target.body))
    obstacles = tuple(
        Obstacle(tuple((x * factor, y * factor) for x, y in obstacle.outline)) for obstacle in scene.obstacles
    )
    return replace(
        scene, width_mm=scene.width_mm * factor, depth_mm=scene.depth_mm * factor, target=moved, obstacles=obstacles
    )


def _growth_seconds(scene: Scene) -> float:
    finder = _finder(scene)
    begun = time.process_time()
    finder.outs(Caution())
    return time.process_time() - begun


def growth_obstacles() -> Figure:
    seconds = {n: min(_growth_seconds(_crowded(n)) for _ in range(2)) for n in (1, 4, 16, 64)}
    note = "way out with 64 obstacles over that with 1; " + ", ".join(f"{n}: {s:.2f} s" for n, s in seconds.items())
    return Figure(seconds[64] / seconds[1], "ratio", None, note)


def growth_table() -> Figure:
    seconds = {f: min(_growth_seconds(_stretched(f)) for _ in range(2)) for f in (1.0, 2.0, 4.0)}
    note = "way out on a table 4 times as long and deep; " + ", ".join(f"x{f:g}: {s:.2f} s" for f, s in seconds.items())
    return Figure(seconds[4.0] / seconds[1.0], "ratio", None, note)


FIGURES = {
    "motion.search_solved": solved,
    "motion.search_close_to_best": close_to_best,
    "motion.search_worst_ratio": worst_ratio,
    "motion.search_median": median,
    "motion.search_p95": p95,
    "motion.search_cold": cold,
    "motion.search_memory": memory,
    "motion.search_growth_obstacles": growth_obstacles,
    "motion.search_growth_table": growth_table,
    "motion.check_course": check_time,
    "motion.steadiest_median": steadiest_time,
    "motion.rounding_failed": rounding,
}
