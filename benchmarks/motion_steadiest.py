"""The steadiest course beside those of a long search over both sides of every obstacle.

For every obstacle and edge of the table the scene is planned with a dam from the one to the other, so that each way round
has its turn; other seeds and many more ways and roundings are tried too. What works in a scene with a dam works without
it. All candidates are compared on one matrix of random numbers, the best few on a second, and the best of these and the
planner's own course are judged on a third, that neither was chosen by, and all three are the same for all (common random
numbers). ``python -m benchmarks.motion_steadiest 3 10`` prints single scenes by their index.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np

from benchmarks.figures import Figure
from benchmarks.planned_courses import SCENES
from benchmarks.random_scenes import random_scene
from motion.chance.montecarlo import clean_runs, normals
from motion.course.actions import Action
from motion.errors import NoCourseError
from motion.scene.checks import scene_problems
from motion.scene.files import read_scene
from motion.scene.records import Pose, Scene
from motion.search.other_sides import dams
from motion.search.plan import plan_courses

#: Two scenes that nobody chose beside the ten samples; other seeds of the long search.
RANDOM, SEEDS = (0, 10), (1, 2, 3)
#: Runs of the first comparison, the second and the judging, with their streams; and how many get to the second.
FIRST, SECOND, JUDGED, FINALISTS = (2_000, 71), (20_000, 72), (50_000, 73), 6
LONGEST = 40

Known = dict[tuple[Pose, tuple[Action, ...]], None]


def _scenes() -> list[Scene]:
    return [*(read_scene(path.read_bytes()) for path in SCENES), *(random_scene(number) for number in RANDOM)]


def _variants(scene: Scene) -> Iterator[tuple[Scene, int]]:
    """The scene with other seeds, and with each dam."""
    for seed in SEEDS:
        yield scene, seed
    for thing in (*scene.obstacles, *scene.keep_outs):
        for dam in dams(scene, thing.outline):
            yield replace(scene, obstacles=(*scene.obstacles, dam)), 0


def _known(scene: Scene) -> Known:
    known: Known = {}
    for variant, seed in _variants(scene):
        if scene_problems(variant):
            continue  # the dam lies over the start, the base or the target
        try:
            courses = plan_courses(variant, "steadiest", alternatives=3, seed=seed)
        except NoCourseError:
            continue
        known |= {(course.start, course.actions): None for course in courses}
    return known


def _works(scene: Scene, course: tuple[Pose, tuple[Action, ...]], runs: int, stream: int) -> float:
    start, actions = course
    return clean_runs(scene, start, actions, normals(LONGEST, runs, stream)) / runs


@cache
def _ratio(number: int) -> tuple[float, float, float]:
    """The planner's success over that of the long search, and both."""
    scene = _scenes()[number]
    own = plan_courses(scene, "steadiest")[0]
    mine = (own.start, own.actions)
    known = [course for course in {**_known(scene), mine: None} if len(course[1]) <= LONGEST]
    for (runs, stream), most in ((FIRST, FINALISTS), (SECOND, 1)):
        works = {course: _works(scene, course, runs, stream) for course in known}
        known = sorted(known, key=lambda course: -works[course])[:most]
    ours, best = _works(scene, mine, *JUDGED), _works(scene, known[0], *JUDGED)
    return ours / best if best > 0 else 1.0, ours, best


def _ratios() -> list[float]:
    return [_ratio(number)[0] for number in range(len(_scenes()))]


def _note() -> str:
    return "planner's over the long search's success; all: " + " ".join(f"{ratio:.3f}" for ratio in _ratios())


def median() -> Figure:
    return Figure(float(np.median(_ratios())), "ratio", 0.98, "median of 12 scenes, " + _note(), at_least=True)


def worst() -> Figure:
    return Figure(min(_ratios()), "ratio", 0.95, "worst of 12 scenes, " + _note(), at_least=True)


FIGURES = {"motion.steadiest_ratio_median": median, "motion.steadiest_ratio_worst": worst}


def main() -> None:
    for number in [int(each) for each in sys.argv[1:]] or range(len(_scenes())):
        ratio, ours, best = _ratio(number)
        print(
            f"{number} {_scenes()[number].name}: planner {ours:.4f}, long search {best:.4f}, ratio {ratio:.3f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
