"""A club that has just been opened is led through what to do first."""

from __future__ import annotations

import pytest
from django.urls import reverse

from classroom.models import Table
from missions.readiness.pages.first_steps import STEPS, first_steps
from tests import factories as make
from tests.pages import page_of


def done(club) -> list[str]:
    return [name for (name, *_), step in zip(STEPS, first_steps(club), strict=True) if step.done]


@pytest.mark.django_db
def test_each_step_is_done_by_what_it_asks_for_and_in_its_own_club_only():
    club, other = make.ClubFactory(), make.ClubFactory()
    seen = [done(club)]
    Table.objects.create(club=club, name="Table A", width_mm=2400, depth_mm=1200)
    seen.append(done(club))
    robot = make.RobotFactory(club=club)
    seen.append(done(club))
    make.CalibrationFactory(robot=robot)
    seen.append(done(club))
    team = make.TeamFactory(club=club)
    seen.append(done(club))
    make.RobotAssignmentFactory(team=team, robot=robot)
    seen.append(done(club))
    make.mission_with_tiers(club, published_at=make.NOW)
    seen.append(done(club))
    make.SessionFactory(term=make.TermFactory(club=club))
    seen.append(done(club))
    names = [name for name, *_ in STEPS]
    assert seen == [names[:n] for n in range(len(names) + 1)]
    assert done(other) == []


@pytest.mark.django_db
def test_the_steps_take_one_query(django_assert_num_queries):
    club = make.ClubFactory()
    with django_assert_num_queries(1):
        first_steps(club)


def test_a_coach_of_an_empty_club_is_sent_to_each_step_and_an_observer_reads_them(cast):
    page = page_of(cast.as_coach.get("/"))
    for _, words, _, name in STEPS:
        assert str(words) in page and f'href="{reverse(name)}"' in page
    seen = page_of(cast.as_observer.get("/"))
    assert str(STEPS[0][1]) in seen and f'<a href="{reverse("tables")}"><b>' not in seen


def test_a_club_with_a_mission_has_its_board(cast):
    make.mission_with_tiers(cast.club, published_at=make.NOW)
    assert "first-steps" not in page_of(cast.as_coach.get("/"))
