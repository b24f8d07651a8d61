"""What a team says to a course that its coach shows it."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, InputError
from planning.models import Course, TeamAnswer
from planning.team.services.answer_course import answer_course
from tests import factories as make
from tests.log import tells_live_pages

NOW = make.NOW
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def shown(cast):
    return make.CourseFactory(team=cast.team_a, robot=cast.robot_a, origin="planner", shown_to_team_at=NOW)


def kept(course):
    return Course.objects.values_list("answer", "answered_at").get(pk=course.pk)


def test_an_answer_is_kept_and_the_other_one_later_takes_its_place(cast, shown):
    assert kept(shown) == ("", None)
    assert tells_live_pages(lambda: answer_course(shown, "try", now=NOW), cast.club)
    assert kept(shown) == (TeamAnswer.TRY, NOW)
    answer_course(shown, "keep", now=NOW + MINUTE)
    assert kept(shown) == (TeamAnswer.KEEP, NOW + MINUTE)


@pytest.mark.parametrize("said", ["", "maybe"])
def test_what_is_no_answer_is_refused(shown, said):
    with pytest.raises(InputError) as refused:
        answer_course(shown, said, now=NOW)
    assert (refused.value.code, refused.value.message) == ("not_an_answer", "Tap one of the two answers.")
    assert kept(shown) == ("", None)


def test_a_course_that_was_taken_back_a_moment_ago_is_not_answered_though_another_is_shown(cast, shown):
    make.CourseFactory(team=cast.team_a, robot=cast.robot_a, origin="planner", shown_to_team_at=NOW)
    Course.objects.filter(pk=shown.pk).update(shown_to_team_at=None)
    with pytest.raises(ConflictError) as refused:
        answer_course(shown, "try", now=NOW)
    assert (refused.value.code, refused.value.message) == ("not_shown", "Your coach does not show this plan any more.")
    assert kept(shown) == ("", None)
