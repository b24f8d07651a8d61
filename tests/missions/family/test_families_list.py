"""All families of a club: team by team, folded when they are many, and found by a piece of a name."""

from __future__ import annotations

import pytest
from django.urls import reverse

from missions.family.by_team import SHOWN_AT_ONCE
from tests import factories as make
from tests.pages import page_of

FAMILIES = reverse("families")


@pytest.fixture
def names(cast):
    team = make.TeamFactory(club=cast.club, name="Schöne Seeschwalben", order=9)
    for nickname in ("Zoë", "Äolus", "مريم"):
        make.MembershipFactory(team=team, member__nickname=nickname)
    return cast


def shown(client, find=""):
    teams = client.get(FAMILIES, {"find": find} if find else {}).context["teams"]
    return {team.team.name: [row.member.nickname for row in team.rows] for team in teams}


def test_children_stand_under_their_teams_in_the_clubs_order(names):
    assert list(shown(names.as_coach)) == [names.team_a.name, names.team_b.name, "Schöne Seeschwalben"]


@pytest.mark.parametrize(
    ("find", "found"),
    [("zoe", ["Zoë"]), (" ÄOL ", ["Äolus"]), ("مريم", ["مريم"]), ("schone", ["Zoë", "Äolus", "مريم"])],
)
def test_a_name_is_found_whatever_its_capitals_and_accents(names, find, found):
    assert {team: sorted(rows) for team, rows in shown(names.as_coach, find).items()} == {
        "Schöne Seeschwalben": sorted(found)
    }


def test_what_is_not_found_is_said_and_all_is_one_press_away(names):
    page = page_of(names.as_coach.get(FAMILIES, {"find": "<b>gannet"}))
    assert "No child and no team is called “&lt;b&gt;gannet”." in page and f'href="{FAMILIES}"' in page


def test_many_children_are_folded_and_what_is_looked_for_is_open(names):
    for number in range(SHOWN_AT_ONCE):
        make.MembershipFactory(team=names.team_a, member__nickname=f"Tern {number}")
    assert not any(team.is_open for team in names.as_coach.get(FAMILIES).context["teams"])
    assert all(team.is_open for team in names.as_coach.get(FAMILIES, {"find": "tern"}).context["teams"])


def test_more_children_cost_no_more_queries(names, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    names.as_coach.get(FAMILIES)
    with CaptureQueriesContext(connection) as few:
        names.as_coach.get(FAMILIES)
    for number in range(20):
        make.MembershipFactory(team=make.TeamFactory(club=names.club, order=20 + number))
    with django_assert_num_queries(len(few)):
        names.as_coach.get(FAMILIES)
