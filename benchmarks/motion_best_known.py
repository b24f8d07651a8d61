"""The fastest exact course beside the best one known, on scenes nobody chose; and the long search that keeps those.

``python -m benchmarks.motion_best_known --minutes 30`` searches on: always the scene that was searched the least, with
another seed, a finer grid, more legs and many times the refining. It keeps what is better in ``benchmarks/data`` after
every scene, so that it may be stopped at any time. It shares the kernels with the planner, so it tells what the planner's
haste leaves behind, not what both overlook.

A push may end anywhere in the middle half of its window, and a shorter one is quicker. So that this does not count, all
are compared as if they pushed to the mark.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Iterator
from datetime import date
from functools import cache
from pathlib import Path

from benchmarks.figures import Figure
from benchmarks.random_scenes import kind_of, random_scene
from motion.chance.landing import miss
from motion.check import check_course
from motion.course.actions import Action, Drive, Push
from motion.course.times import course_seconds
from motion.errors import NoCourseError
from motion.ground.clearance import poses_of
from motion.scene.records import Pose, Scene
from motion.search.parts import DEEP_GRID_MM, Part, PartFinder
from motion.search.phases import Caution
from motion.search.plan import plan_courses
from motion.search.pool import exact_push_over
from tests.oracles.judge import judge_course

DATA = Path(__file__).parent / "data" / "best_known.json"
SCENES, EFFORT, WAYS = 60, 4.0, 24
#: Grids of the long search (mm), one after the other with the seeds; and how many ends of pushes are brought home.
GRIDS, ENDS = (150.0, 110.0, DEEP_GRID_MM), 2


def seconds_to_the_mark(scene: Scene, start: Pose, actions: tuple[Action, ...]) -> float:
    """Seconds of a course as if its push ended at the mark, and as much more or less was backed off."""
    at = next(i for i, action in enumerate(actions) if isinstance(action, Push))
    push, off = actions[at], actions[at + 1]
    assert isinstance(push, Push) and isinstance(off, Drive)
    over = miss(scene, poses_of(start, actions)[at + 1])[0] - exact_push_over(scene)
    changed = (*actions[:at], Push(push.distance_mm - over), Drive(off.distance_mm + over), *actions[at + 2 :])
    return course_seconds(scene.robot, changed)[0]


class _LongFinder(PartFinder):
    """Finds parts with more patience than the planner has."""

    spacing_mm, legs = GRIDS[0], 8

    def _grid(self) -> tuple[float, int]:
        return self.spacing_mm, self.legs


def long_search(scene: Scene, number: int) -> float | None:
    """Seconds of the best course of one more long search, clear to both judges; None when there is none."""
    finder = _LongFinder(scene, exact=True, seed=1 + number, tick=lambda: None)
    finder.spacing_mm, finder.push_over_mm = GRIDS[number % len(GRIDS)], exact_push_over(scene)
    best = None
    outs: dict[Pose, Part] = {}
    for out in finder.outs(Caution(), WAYS, EFFORT):
        outs.setdefault(out.end, out)
    for out in list(outs.values())[:ENDS]:
        for home in finder.homes(Caution(), out.end, WAYS, EFFORT)[:4]:
            actions = (*out.actions, *home.actions)
            if not check_course(scene, out.start, actions, quick=True).clear:
                continue
            seconds = course_seconds(scene.robot, actions)[0]
            if (best is None or seconds < best) and judge_course(scene, out.start, actions).clear:
                best = seconds
    return best


def _read() -> dict[str, dict]:
    return json.loads(DATA.read_text())["scenes"] if DATA.exists() else {}


def _write(scenes: dict[str, dict]) -> None:
    facts = {
        "what": "best known seconds of the fastest exact course, its push to the mark, of benchmarks/random_scenes.py",
        "command": "python -m benchmarks.motion_best_known",
        "scenes": dict(sorted(scenes.items(), key=lambda item: int(item[0]))),
    }
    DATA.parent.mkdir(exist_ok=True)
    DATA.write_text(json.dumps(facts, indent=1) + "\n")


def search_on(minutes: float, today: date) -> Iterator[str]:
    """Search until the time is over, one line for every scene searched."""
    scenes, until = _read(), time.monotonic() + 60 * minutes
    while time.monotonic() < until:
        number = min(range(SCENES), key=lambda n: (scenes.get(str(n), {}).get("searches", 0), n))
        known = scenes.get(str(number), {"kind": kind_of(number), "seconds": None, "searches": 0, "on": None})
        scene, begun = random_scene(number), time.process_time()
        found = [long_search(scene, known["searches"])]
        try:
            course = plan_courses(scene, "fastest", exact=True)[0]
            found.append(seconds_to_the_mark(scene, course.start, course.actions))
        except NoCourseError:
            pass
        least = min((seconds for seconds in found if seconds is not None), default=None)
        if least is not None and (known["seconds"] is None or least < known["seconds"] - 1e-6):
            known |= {"seconds": round(least, 6), "on": today.isoformat()}
        scenes[str(number)] = known | {"searches": known["searches"] + 1}
        _write(scenes)
        yield f"{number} {kind_of(number)}: {known['seconds']} s known, {time.process_time() - begun:.1f} s searched"


@cache
def _ratios() -> dict[int, float]:
    """Of every scene with a best known course how much longer the planner's takes; inf where it finds none."""
    ratios = {}
    for number, known in ((int(number), known) for number, known in _read().items()):
        if known["seconds"] is None:
            continue
        scene = random_scene(number)
        try:
            course = plan_courses(scene, "fastest", exact=True)[0]
        except NoCourseError:
            ratios[number] = float("inf")
            continue
        ratios[number] = float(seconds_to_the_mark(scene, course.start, course.actions)) / known["seconds"]
    return ratios


def _note(above: float) -> str:
    ratios = _ratios()
    over = ", ".join(f"{n} ({kind_of(n)}) {ratio - 1:+.2%}" for n, ratio in ratios.items() if ratio > above)
    return f"of {len(ratios)} scenes with a best known course, of {SCENES} random ones; over: {over or 'none'}"


def close() -> Figure:
    ratios = _ratios()
    share = sum(ratio <= 1.005 for ratio in ratios.values()) / len(ratios)
    return Figure(share, "share", 0.98, "within 0.5 % of the best known, " + _note(1.005), at_least=True)


def worst() -> Figure:
    return Figure(max(_ratios().values()), "ratio", 1.01, "fastest over the best known, worst, " + _note(1.01))


FIGURES = {"motion.random_close": close, "motion.random_worst": worst}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=30.0)
    for line in search_on(parser.parse_args().minutes, date.today()):
        print(line, flush=True)


if __name__ == "__main__":
    main()
