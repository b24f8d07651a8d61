"""Where a course winds through narrow gaps it is looked for on a finer grid too."""

from __future__ import annotations

import pytest

from benchmarks.motion_best_known import DATA, seconds_to_the_mark
from benchmarks.random_scenes import random_scene
from motion.search import pool
from motion.search.plan import plan_courses
from tests.oracles.judge import judge_course

#: Two narrow gaps. Twenty-six long searches found nothing quicker (benchmarks/data/best_known.json).
NUMBER, KNOWN_S = 41, 34.229574


def _planned():
    scene = random_scene(NUMBER)
    course = plan_courses(scene, "fastest", exact=True)[0]
    assert judge_course(scene, course.start, course.actions).clear
    return seconds_to_the_mark(scene, course.start, course.actions)


def test_through_narrow_gaps_the_fastest_is_as_fast_as_long_searches_found_it():
    assert _planned() <= 1.005 * KNOWN_S


def test_without_the_finer_grid_it_would_not_be(monkeypatch):
    monkeypatch.setattr(pool, "WINDING", 1_000)
    assert _planned() > 1.01 * KNOWN_S


def test_what_is_known_of_the_scene_is_what_the_benchmark_keeps():
    assert f'"seconds": {KNOWN_S}' in DATA.read_text()


@pytest.mark.parametrize("number", [0, 20])
def test_a_course_that_does_not_wind_is_searched_for_once(number, monkeypatch):
    looked = []
    deep = pool.PartFinder.searching_deep
    monkeypatch.setattr(pool.PartFinder, "searching_deep", lambda finder: looked.append(1) or deep(finder))
    plan_courses(random_scene(number), "fastest", exact=True)
    assert looked == []
