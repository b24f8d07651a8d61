"""The most actions that a course may have, and what steps cost and gain in words."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache

import pytest

from benchmarks.random_scenes import random_scene
from motion.check import check_course
from motion.errors import NoCourseError
from motion.scene.records import Obstacle
from motion.search.mending import with_mend
from motion.search.plan import REPORT_RUNS, REPORT_STREAM, plan_courses
from motion.search.trade import Trade, trade_words
from tests.motion.scenes import box, plain_scene
from tests.oracles.judge import judge_course

BANK = Obstacle(box(700, 250, 300, 400), "gravel bank")
#: Its steadiest course has more steps than its simplest one.
SCENE = random_scene(10)


@lru_cache(maxsize=4)
def _planned(aim, most_actions=None):
    return plan_courses(SCENE, aim, most_actions=most_actions)[0]


def test_the_steadiest_course_says_what_its_steps_gain_beside_one_with_fewer():
    course = _planned("steadiest")
    said = re.fullmatch(
        r"Beside the steadiest course of (\d+) steps: (\d+) more steps?, ([\d.]+) s (more|less): "
        r"(\d+ (more|fewer)|as many) of 100 runs works?\.",
        course.note,
    )
    assert said, course.note
    assert int(said[1]) + int(said[2]) == len(course.actions)


def test_a_limit_of_steps_is_heard_by_the_search_and_says_what_it_costs():
    free = _planned("steadiest")
    most = len(free.actions) - 1
    held = _planned("steadiest", most)
    assert len(held.actions) <= most and held.check.clear
    assert judge_course(SCENE, held.start, held.actions).clear
    words = held.note.split("Without the limit")[1]
    assert words.startswith(f" of {most} steps: ") and "runs work" in words
    told = re.search(r": (\d+) more steps?, ", words)
    assert told and len(held.actions) + int(told[1]) > most


def test_what_is_said_of_two_courses_is_what_their_checks_say():
    """The same runs for both, so that they differ by what they are and not by luck."""
    held = _planned("steadiest", len(_planned("steadiest").actions) - 1)
    again = check_course(SCENE, held.start, held.actions, runs=REPORT_RUNS, seed=REPORT_STREAM)
    assert again.success == held.check.success


@pytest.mark.parametrize("aim", ["fastest", "simplest", "steadiest"])
def test_when_no_course_has_so_few_steps_the_refusal_says_how_many_it_takes(aim):
    scene = plain_scene(obstacles=(BANK,))
    with pytest.raises(NoCourseError) as refused:
        plan_courses(scene, aim, most_actions=3)
    error = refused.value
    assert error.code == "needs_more_steps"
    said = re.fullmatch(
        r"No course of at most 3 steps was found; the shortest that was found has (\d+)\. "
        r"Allow \1 steps, or make more room for a straighter way\.",
        error.message,
    )
    assert said, error.message
    assert len(plan_courses(scene, "simplest", most_actions=int(said[1]))[0].actions) == int(said[1])
    assert with_mend(scene, error) is error, "nothing stands in its way"


def test_a_limit_that_the_best_course_keeps_changes_nothing():
    scene = plain_scene(obstacles=(BANK,))
    free = plan_courses(scene, "simplest")[0]
    assert replace(plan_courses(scene, "simplest", most_actions=30)[0], note="") == replace(free, note="")


@pytest.mark.parametrize(
    ("trade", "words"),
    [
        (Trade(2, 2.0, 5.0), "2 more steps, 2.0 s more: 5 more of 100 runs work"),
        (Trade(-1, -0.51, -1.4), "1 fewer step, 0.5 s less: 1 fewer of 100 runs works"),
        (Trade(1, 0.04, 0.49), "1 more step, in the same time: as many of 100 runs work"),
    ],
)
def test_a_trade_in_words(trade, words):
    assert trade_words(trade) == words
