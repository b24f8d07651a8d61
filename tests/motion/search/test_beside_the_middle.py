"""Exact numbers push along the target's middle line; where that is barred, those of whole steps push beside it, and are exact too."""

from __future__ import annotations

import pytest

from benchmarks.random_scenes import random_scene
from motion.errors import NoCourseError
from motion.search.parts import Part, PartFinder
from motion.search.phases import Caution
from motion.search.plan import plan_courses
from motion.search.pool import HARDLY, Pool
from tests.oracles.judge import judge_course


def alone(scene):
    """What exact numbers find by themselves."""
    Pool(PartFinder(scene, exact=True, seed=0, tick=lambda: None)).look(Caution(), Part.by_seconds)


@pytest.mark.slow
@pytest.mark.parametrize("number", [36, 50])
def test_what_whole_steps_find_exact_numbers_find_too(number):
    scene = random_scene(number)
    with pytest.raises(NoCourseError):
        alone(scene)
    whole, exact = (plan_courses(scene, "fastest", exact=exact)[0] for exact in (False, True))
    assert judge_course(scene, exact.start, exact.actions).clear
    assert exact.check.duration_s <= whole.check.duration_s * (1 + HARDLY)


def test_where_neither_finds_any_the_words_are_those_of_exact_numbers():
    scene = random_scene(34)
    with pytest.raises(NoCourseError) as before:
        alone(scene)
    with pytest.raises(NoCourseError) as refused:
        plan_courses(scene, "fastest", exact=True)
    assert (refused.value.code, str(refused.value.message)) == (before.value.code, str(before.value.message))
