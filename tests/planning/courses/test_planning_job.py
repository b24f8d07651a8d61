"""From asking to the team's plan, with the planner itself at work."""

from __future__ import annotations

import pytest

from planning.courses.pages.card import card_of
from planning.courses.services.ask_for_course import ask_for_course
from planning.courses.services.plan_team_course import _without_doubles
from planning.jobs.services.run_job import run_job
from planning.models import Course, Job, JobState
from tests import factories as make


@pytest.mark.django_db(transaction=True)
def test_a_course_asked_for_becomes_the_teams_next_plan(cast):
    """Transactions are real here: the heartbeat writes beside the work."""
    tier = make.mission_with_tiers(cast.club)[1][1]
    job = ask_for_course(cast.coach, cast.team_a, tier, "fastest", make.NOW)
    run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.progress, job.error_words) == (JobState.DONE, 1, "")
    course = Course.objects.get(job=job)
    assert (course.team, course.origin, course.aim, course.number) == (cast.team_a, "planner", "fastest", 1)
    assert course.shown_to_team_at is None
    card = card_of(course)
    assert card.check.clear
    assert card.check.success is not None
    again = ask_for_course(cast.coach, cast.team_a, tier, "fastest", make.NOW)
    assert (again.pk, Job.objects.count()) == (job.pk, 1)


def test_one_course_that_serves_two_aims_is_kept_once_and_says_so():
    start, way = {"x_mm": 1}, [{"do": "drive"}]
    one = {"aim": "fastest", "start": start, "actions": way, "note": ""}
    same = one | {"aim": "simplest"}
    other = one | {"aim": "steadiest", "actions": []}
    kept = _without_doubles([dict(one), dict(same), dict(other)])
    assert [(each["aim"], each["note"]) for each in kept] == [("fastest", "It is the simplest too."), ("steadiest", "")]


@pytest.mark.django_db(transaction=True)
def test_when_no_course_has_so_few_steps_the_job_says_how_many_it_takes(cast):
    tier = make.mission_with_tiers(cast.club)[1][1]
    job = ask_for_course(cast.coach, cast.team_a, tier, "simplest", make.NOW, most_steps=3)
    run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.error_code) == (JobState.FAILED, "needs_more_steps")
    assert job.error_words.startswith("No course of at most 3 steps was found; the shortest that was found has ")
    assert not Course.objects.exists()
