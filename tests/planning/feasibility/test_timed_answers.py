"""On a timed tier the answer is about the time too."""

import pytest

from missions.ladder.services.publish_mission import Verdict
from planning.feasibility.services.feasibility import FeasibilityAnswer, FeasibilityQuestion, best_course
from planning.models import Job, JobState


def course(duration_s, probability):
    success = None if probability is None else {"probability": probability, "low": 0.0, "high": 1.0, "runs": 100}
    return {"duration_s": duration_s, "room_mm": 5.0, "success": success, "start": {}, "actions": [duration_s]}


COURSES = {"steadiest": course(29.0, 0.8), "fastest": course(20.0, 0.5), "simplest": course(21.9, 0.6)}


def test_without_a_limit_it_is_the_steadiest():
    assert best_course(COURSES, None) is COURSES["steadiest"]


def test_a_steadiest_course_that_is_over_the_limit_is_not_the_answer():
    best = best_course(COURSES, 22.0)
    assert best is not None and best["duration_s"] == 20.0


@pytest.mark.parametrize(("limit_s", "share"), [(20.0, 0.5), (200.0, 1.0), (5.0, 0.0)])
def test_its_chance_includes_the_time(limit_s, share):
    best = best_course({"fastest": COURSES["fastest"]}, limit_s)
    assert best is not None
    assert best["success"]["probability"] == pytest.approx(0.5 * share, abs=1e-6)
    assert best["success"]["high"] == pytest.approx(share, abs=1e-6)
    assert COURSES["fastest"]["success"]["probability"] == 0.5, "what was found stays as it was"


def test_without_any_chance_it_is_the_quickest_and_without_a_course_none():
    assert best_course({"steadiest": course(29.0, None), "fastest": course(20.0, None)}, 22.0) == course(20.0, None)
    assert best_course({}, 22.0) is None and best_course({}, None) is None


@pytest.mark.parametrize(
    ("kind", "limit_s", "aim"),
    [("timed", 22.0, "fastest"), ("plain", None, "steadiest"), ("obstacle", None, "steadiest")],
)
def test_only_a_timed_tier_has_a_limit_and_its_best_is_within_it(kind, limit_s, aim):
    job = Job(state=JobState.DONE, result={"courses": COURSES})
    answer = FeasibilityAnswer(FeasibilityQuestion("1", "Tier", kind, 22.0, "Kit 1", 1), job, Verdict(True))
    assert (answer.limit_s, answer.aim) == (limit_s, aim)


def test_an_answer_that_is_not_there_has_no_aim():
    question = FeasibilityQuestion("1", "Tier", "plain", None, "Kit 1", 1)
    assert FeasibilityAnswer(question, Job(state=JobState.RUNNING), Verdict(None)).aim == ""
