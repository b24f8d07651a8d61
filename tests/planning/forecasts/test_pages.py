"""What was said beside what came, on the plan's card, the team's tablet and over the term."""

from __future__ import annotations

import pytest
from django.urls import reverse

from planning.forecasts.queries import forecast_of, forecasts_of_club
from planning.models import Course
from tests import factories as make
from tests.pages import page_of
from tests.planning.planned_courses import planned


@pytest.fixture
def course(cast) -> Course:
    return planned(cast.team_a, make.mission_with_tiers(cast.club)[1][0], cast.robot_a)


def run(course, successes, **more):
    given = {
        "team": course.team,
        "tier_version": course.tier_version,
        "tier": course.tier_version.tier,
        "robot": course.robot,
        "calibration": course.calibration,
        "plan_number": course.number,
    }
    return [make.AttemptFactory(success=success, **given | more) for success in successes]


def say(course, probability, low, high):
    course.check_result["success"] = {"probability": probability, "low": low, "high": high, "runs": 1000}
    course.save()


def test_runs_count_whose_robot_and_calibration_are_those_of_the_plan(cast, course):
    say(course, 0.6, 0.5, 0.7)
    run(course, [True, True, False])
    run(course, [False], robot=None)
    run(course, [False], plan_number=course.number + 1)
    run(course, [False], calibration=make.CalibrationFactory(robot=course.robot))
    run(course, [False], withdrawn_at=make.NOW)
    found = forecast_of(course)
    assert found is not None and (found.came, found.runs, found.said) == (2, 3, 0.6)


def test_a_plan_of_which_nothing_was_said_has_no_forecast(course):
    course.check_result["success"] = None
    assert forecast_of(course) is None


def test_all_plans_of_a_club_take_two_queries(cast, course, django_assert_num_queries):
    say(course, 0.6, 0.5, 0.7)
    run(course, [True])
    run(planned(cast.team_b, course.tier_version, make.RobotFactory(club=cast.club)), [False])
    with django_assert_num_queries(3):
        assert len(forecasts_of_club(cast.club)) == 2


def test_the_card_says_when_luck_does_not_explain_it(cast, course):
    say(course, 0.9, 0.85, 0.95)
    run(course, [True, True, True] + [False] * 8)
    text = page_of(cast.as_coach.get(reverse("course", args=[course.pk])))
    assert "Said 85 to 95 in 100, came 3 of 11." in text
    assert "fewer than luck explains" in text


def test_the_tablet_says_the_same(cast, course):
    say(course, 0.6, 0.46, 0.71)
    course.shown_to_team_at = make.NOW
    course.save()
    run(course, [True] * 9 + [False] * 3)
    text = page_of(cast.as_team_a.get(reverse("team_plan", args=[course.pk])))
    assert "Said 46 to 71 in 100, came 9 of 12." in text and "The two agree." in text


def test_the_term_shows_each_tenth_beside_what_came(cast, course):
    say(course, 0.9, 0.85, 0.95)
    session = make.SessionFactory(term__club=cast.club)
    run(course, [True] * 3 + [False] * 22, session=session)
    text = page_of(cast.as_coach.get(reverse("forecasts", args=[session.term_id])))
    assert "came <b>3 of 25</b>" in text and "fewer than luck explains" in text
    assert "1 came out otherwise than said" in text
    empty = make.TermFactory(club=cast.club)
    assert "No plan with a predicted chance" in page_of(cast.as_coach.get(reverse("forecasts", args=[empty.pk])))
