"""Which courses and jobs there are for a coach or a team."""

from __future__ import annotations

import pytest
from django.http import Http404

from classroom.access import TeamSeat
from planning import access
from tests import factories as make

NOW = make.NOW


@pytest.fixture
def edition(cast):
    return make.mission_with_tiers(cast.club)[1][0]


def refused(door, *asked):
    with pytest.raises(Http404):
        door(*asked)


def test_courses_and_jobs_are_there_for_their_own_club(cast, edition):
    course = make.CourseFactory(team=cast.team_a, tier_version=edition)
    other = make.CourseFactory(team=cast.team_b, tier_version=edition)
    job = make.JobFactory(club=cast.club)
    for door, row in [(access.get_course, course), (access.get_course, other), (access.get_job, job)]:
        assert door(cast.coach, row.pk) == row
        refused(door, cast.other_coach, row.pk)
        refused(door, cast.coach, 0)


def test_a_plan_is_found_by_the_number_that_people_say(cast, edition):
    second = edition.version.tier_versions.get(order=2)
    plans = {
        (team.name, tier.order, number): make.CourseFactory(team=team, tier_version=tier, number=number)
        for team in (cast.team_a, cast.team_b)
        for tier in (edition, second)
        for number in (7, 8)
    }
    found = access.get_course_by_number(cast.team_a, second.tier, 7)
    assert found == plans["Curlew", 2, 7]
    refused(access.get_course_by_number, cast.team_a, second.tier, 9)


def test_only_a_teams_job_has_a_page_of_its_own(cast, edition):
    of_team = make.JobFactory(club=cast.club, team=cast.team_a, tier_version=edition)
    theirs = make.JobFactory(club=cast.other_coach.club, team=make.TeamFactory(club=cast.other_coach.club))
    assert access.get_course_job(cast.coach, of_team.pk) == of_team
    refused(access.get_course_job, cast.coach, make.JobFactory(club=cast.club).pk)
    refused(access.get_course_job, cast.coach, theirs.pk)


@pytest.mark.parametrize(
    ("team", "origin", "shown", "there"),
    [
        ("team_a", "team", None, True),
        ("team_a", "planner", NOW, True),
        ("team_a", "planner", None, False),
        ("team_b", "team", None, False),
        ("team_b", "planner", NOW, False),
    ],
)
def test_a_team_has_its_own_courses_and_those_that_it_was_shown(cast, edition, team, origin, shown, there):
    course = make.CourseFactory(team=getattr(cast, team), tier_version=edition, origin=origin, shown_to_team_at=shown)
    seat = TeamSeat(cast.team_a, make.TabletSessionFactory(team=cast.team_a))
    if there:
        assert access.get_own_course(seat, course.pk) == course
    else:
        refused(access.get_own_course, seat, course.pk)
