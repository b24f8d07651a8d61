"""Each button of each role is pressed once on the demonstration: what comes is the thing asked for, or a refusal in words."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from classroom.models import Club, Coach, Team
from config.management.commands.demo_club import make_demo_club
from tests import factories as make
from tests.browser.presses import Walk
from tests.conftest import signed_in_coach, signed_in_team

DOORS = {
    "visitor": ["/", "/account/sign-in/", "/team/"],
    "team": ["/team/mission/", "/team/course/", "/team/log/", "/team/robot/"],
    "coach": ["/", "/today/", "/term/", "/teams/", "/missions/", "/robots/", "/families/", "/settings/"],
}


@pytest.fixture
def demonstration(transactional_db: None, live_server: Any) -> Club:
    keys = make_demo_club(timezone.now(), seed=1, email="lead@example.org")
    club = Club.objects.get()
    club.family_link = keys["family_link"]
    return club


def client_of(club: Club, role: str) -> Any:
    if role in ("visitor", "guardian"):
        return None  # a guardian comes with nothing but the link
    if role == "team":
        return signed_in_team(Team.objects.get(name="Curlew"))
    coach = Coach.objects.filter(club=club, role=role).order_by("pk").first()
    return signed_in_coach(coach or make.CoachFactory(club=club, role=role))  # the demonstration has no observer


@pytest.mark.slow
@pytest.mark.parametrize(
    ("role", "least"),
    [("visitor", 2), ("guardian", 1), ("observer", 3), ("team", 15), ("assistant", 60), ("lead", 80)],
)
def test_each_button_of_a_role_does_its_thing_or_says_why_not(demonstration, open_page, role, least):
    doors = [demonstration.family_link] if role == "guardian" else DOORS.get(role, DOORS["coach"])
    page = open_page(client_of(demonstration, role), doors[0])
    walk = Walk(page).over(doors)
    print(f"{role}: {walk.done} kinds of buttons pressed, {len(walk.gone)} not there any more: {walk.gone}")
    assert walk.findings == []
    assert walk.done >= least
