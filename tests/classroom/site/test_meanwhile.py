"""Two coaches at one form: the second is told who was quicker, loses nothing, and writes over it only when it says so."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from classroom.club.services.save_club import club_mark, save_club
from classroom.errors import ConflictError
from classroom.models import Club, Member, Membership, Robot, Team
from classroom.robots.services.keep_robot import change_robot, robot_mark
from classroom.site.clash.mark import mark_of
from classroom.teams.services.keep_team import member_mark, move_member, rename_member, rename_team, team_mark
from tests import factories as make
from tests.classroom.robots.test_robots import form_data
from tests.pages import page_of

NOW = make.NOW
SETTINGS = {
    "name": "Saltmarsh Makers Club",
    "unit": "cm",
    "time_zone": "Europe/London",
    "locale": "en-gb",
    "retention_days": 400,
    "tells_jobs": True,
    "measures_by_camera": True,
}


def shown(client, url):
    """The mark that the page's form carries."""
    page = client.get(url)
    assert f'name="seen" value="{page.context["seen"]}"' in page_of(page)
    return page.context["seen"]


@pytest.fixture
def forms(cast):
    """For each form: its address, what the second coach types, what the first has saved, and what then stands."""

    def first_robot():
        change_robot(cast.robot_a, cast.assistant, {"track_width_mm": 120.0}, rebuilt=False, now=NOW)

    def first_club():
        save_club(cast.club, cast.assistant, SETTINGS | {"unit": "in"}, now=NOW)

    def first_member():
        move_member(cast.member_a, cast.team_b, cast.assistant, now=NOW)

    return {
        "robot": (
            reverse("robot_edit", args=[cast.robot_a.pk]),
            form_data(name="Kit 1", wheel_diameter="6.2"),
            first_robot,
            lambda: Robot.objects.get(pk=cast.robot_a.pk).wheel_diameter_mm,
            (56, 62),
            ("Track width", "12 cm"),
        ),
        "club": (
            reverse("club_settings"),
            SETTINGS | {"name": "Estuary"},
            first_club,
            lambda: Club.objects.get(pk=cast.club.pk).name,
            ("Saltmarsh Makers Club", "Estuary"),
            ("Lengths are shown in", "inches"),
        ),
        "team": (
            reverse("team_edit", args=[cast.team_a.pk]),
            {"name": "Whimbrel"},
            lambda: rename_team(cast.team_a, cast.assistant, "Sandpiper", now=NOW),
            lambda: Team.objects.get(pk=cast.team_a.pk).name,
            ("Sandpiper", "Whimbrel"),
            ("Team's name", "Sandpiper"),
        ),
        "member": (
            reverse("member", args=[cast.member_a.pk]),
            {"nickname": "Robbie", "team": cast.team_a.pk},
            first_member,
            lambda: Member.objects.get(pk=cast.member_a.pk).nickname,
            ("Robin", "Robbie"),
            ("Team", "Plover"),
        ),
    }


@pytest.mark.parametrize("which", ["robot", "club", "team", "member"])
def test_the_slower_of_two_is_told_and_loses_nothing_and_may_then_write_over_it(cast, forms, which):
    url, typed, first, standing, (theirs, mine), (what, said) = forms[which]
    seen = shown(cast.as_coach, url)
    first()
    answer = cast.as_coach.post(url, typed | {"seen": seen})
    assert answer.status_code == 409
    assert standing() == theirs
    page = page_of(answer)
    assert f"{cast.assistant} changed this while you had it open" in page
    row = next(row for row in answer.context["clash"].differences if row.what == what)
    assert row.theirs == said
    assert answer.context["form"].data["seen"] == seen  # what was typed is still in the form
    over = answer.context["clash"].over
    assert cast.as_coach.post(url, typed | {"seen": seen, "over": over}).status_code == 302
    assert standing() == mine


@pytest.mark.parametrize("which", ["robot", "club", "team", "member"])
def test_nobody_meanwhile_and_the_form_is_saved(cast, forms, which):
    url, typed, _, standing, (_, mine), _ = forms[which]
    assert cast.as_coach.post(url, typed | {"seen": shown(cast.as_coach, url)}).status_code == 302
    assert standing() == mine


@pytest.mark.parametrize("which", ["robot", "club", "team", "member"])
def test_a_form_without_its_mark_writes_over_nothing(cast, forms, which):
    url, typed, _, standing, _, _ = forms[which]
    before = standing()
    assert cast.as_coach.post(url, typed).status_code == 409
    assert standing() == before


def test_a_third_who_was_quicker_than_the_second_is_told_of_too(cast, forms):
    url, typed, first, standing, _, _ = forms["team"]
    seen = shown(cast.as_coach, url)
    first()
    over = cast.as_coach.post(url, typed | {"seen": seen}).context["clash"].over
    rename_team(cast.team_a, cast.assistant, "Godwit", now=NOW)
    assert cast.as_coach.post(url, typed | {"seen": seen, "over": over}).status_code == 409
    assert standing() == "Godwit"


def test_a_stale_page_moves_no_child_back(cast):
    """Found by audit: a page opened before a move, saved for the nickname alone, moved the child back unsaid."""
    url = reverse("member", args=[cast.member_a.pk])
    seen = shown(cast.as_coach, url)
    move_member(cast.member_a, cast.team_b, cast.assistant, now=NOW)
    cast.as_coach.post(url, {"nickname": "Robbie", "team": cast.team_a.pk, "seen": seen})
    assert Membership.objects.get(member=cast.member_a, left_on=None).team == cast.team_b


def test_a_mark_is_of_what_the_form_shows_and_of_nothing_else(cast):
    robot = Robot.objects.get(pk=cast.robot_a.pk)
    before = robot_mark(robot)
    Robot.objects.filter(pk=robot.pk).update(state="resting", changed_at=NOW)
    assert robot_mark(Robot.objects.get(pk=robot.pk)) == before
    Robot.objects.filter(pk=robot.pk).update(settle_s=0.3)
    assert robot_mark(Robot.objects.get(pk=robot.pk)) != before
    club = club_mark(cast.club)
    cast.club.touch()
    assert club_mark(Club.objects.get(pk=cast.club.pk)) == club
    rename_member(cast.member_a, "Robbie", cast.coach, now=NOW)
    assert member_mark(cast.member_a) != member_mark(Member(pk=cast.member_a.pk, nickname="Robin"))
    assert team_mark(Team(name="Curlew")) == team_mark(cast.team_a)
    assert mark_of("a", "b") != mark_of("ab")


def test_who_is_not_known_is_somebody(cast):
    Team.objects.filter(pk=cast.team_a.pk).update(name="Godwit")
    with pytest.raises(ConflictError, match="Somebody changed this"):
        rename_team(cast.team_a, cast.coach, "Whimbrel", seen=team_mark(Team(name="Curlew")), now=NOW + dt.timedelta(1))
