"""Today on the wall: tables now and next, the clock, a caution; no child's name, no run, no order of merit."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from classroom.models import SafetyCard
from missions.day.services.run_session import set_team_day, write_note
from missions.day.services.safety_cards import ensure_safety_cards
from missions.models import QuickNote, RotaTurn, SessionRun
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
MINUTE = dt.timedelta(minutes=1)
HTMX = {"HX-Request": "true"}


@pytest.fixture
def day(day):
    day.url = reverse("session_wall", args=[day.session.pk])
    return day


def turn(day, slot, team, table=0, **more):
    return RotaTurn.objects.create(session=day.session, slot=slot, table=day.tables[table], team=team, **more)


def test_the_wall_says_who_is_at_a_table_now_who_is_next_when_and_what_to_lay_anew(day, at_ten_past):
    tier = day.editions[1].tier
    turn(day, 1, day.team_a, layout="plain", tier=day.editions[0].tier)
    turn(day, 2, day.team_b, layout="bank", tier=tier)
    page = day.as_coach.get(day.url)
    first, second = page.context["tables"]
    assert (first.name, first.now.team, first.now.robot) == ("Table 1", "Curlew", "Kit 1")
    assert (first.next.team, first.next_at, first.lay_anew) == ("Plover", "16:20", True)
    assert second.now is None and second.next is None
    assert "Turn 2 of 9" in page_of(page)
    assert f"lay the table anew: {day.mission.title}, with obstacle" in page_of(page)


def test_a_team_that_is_neither_now_nor_next_finds_its_turn(day, at_ten_past):
    knot = make.TeamFactory(club=day.club, name="Knot", order=5)
    away = make.TeamFactory(club=day.club, name="Heron", order=6)
    set_team_day(day.session, away, away=True, now=NOW)
    turn(day, 1, day.team_a)
    turn(day, 2, day.team_b)
    turn(day, 4, knot, table=0)
    (later,) = day.as_coach.get(day.url).context["later"]
    assert (later.team, later.at, later.table) == ("Knot", "16:40", "Table 1")


def test_no_childs_name_no_note_and_no_run_gets_onto_the_wall(day, at_ten_past):
    turn(day, 1, day.team_a)
    write_note(day.session, day.coach, "The belt slips again.", day.team_a, now=NOW)
    make.AttemptFactory(team=day.team_a, tier_version=day.editions[0], session=day.session)
    page = page_of(day.as_coach.get(day.url))
    assert "Curlew" in page and QuickNote.objects.exists()
    for word in (day.member_a.nickname, day.member_b.nickname, "belt slips", "run today", "Needs a look"):
        assert word not in page


def test_tables_stand_in_the_rooms_order_and_teams_in_the_clubs(day, at_ten_past):
    for name, order in (("Zander", 1), ("Avocet", 2)):
        make.kit_out(make.TeamFactory(club=day.club, name=name, order=order))
    make.TeamFactory(club=day.club, name="Without a robot", order=3)
    page = day.as_coach.get(day.url)
    assert [table.name for table in page.context["tables"]] == ["Table 1", "Table 2"]
    assert [later.team for later in page.context["later"]][-2:] == ["Zander", "Avocet"]


def test_each_turn_shows_another_caution_and_the_venues_rules_come_first(day, at_ten_past):
    cards = ensure_safety_cards(day.club)
    page = day.as_coach.get(day.url)
    assert page.context["caution"] == cards[1]
    assert "come first" in page_of(page)
    at_ten_past.move_to(NOW + 20 * MINUTE)
    assert day.as_coach.get(day.url).context["caution"] == cards[2]
    SafetyCard.objects.all().delete()
    assert day.as_coach.get(day.url).context["caution"] is None


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (-120, "Begins at 16:00"),
        (-24 * 60, "Begins 18 November at 16:00"),
        (5, "Turn 1 of 9"),
        (95, "The session is over"),
    ],
)
def test_the_wall_says_what_part_of_the_day_it_is(day, minutes, said):
    turn(day, 0, day.team_a)
    started = NOW if minutes > 0 else None
    SessionRun.objects.create(session=day.session, changed_at=NOW, started_at=started)
    with time_machine.travel(NOW + minutes * MINUTE, tick=False):
        assert said in page_of(day.as_coach.get(day.url))


def test_a_cancelled_session_says_so_and_shows_no_tables(day, at_ten_past):
    SessionRun.objects.update(cancelled_at=NOW)
    page = page_of(day.as_coach.get(day.url))
    assert "No session today" in page and "Table 1" not in page


def test_a_quiet_wall_costs_a_304_and_a_change_or_the_next_turn_a_new_one(day, at_ten_past):
    first = day.as_coach.get(day.url, headers=HTMX)
    tag = {"If-None-Match": first.headers["ETag"], **HTMX}
    assert day.as_coach.get(day.url, headers=tag).status_code == 304
    set_team_day(day.session, day.team_a, away=True, now=NOW)
    tag["If-None-Match"] = day.as_coach.get(day.url, headers=tag).headers["ETag"]
    assert day.as_coach.get(day.url, headers=tag).status_code == 304
    at_ten_past.move_to(NOW + 20 * MINUTE)
    assert day.as_coach.get(day.url, headers=tag).status_code == 200


def test_the_wall_asks_the_database_no_more_with_more_teams(day, at_ten_past, django_assert_max_num_queries):
    for number in range(12):
        team = make.TeamFactory(club=day.club, order=number + 2)
        make.RobotAssignmentFactory(team=team)
        turn(day, number % 9, team, table=1) if number < 9 else None
    with django_assert_max_num_queries(18):
        day.as_coach.get(day.url)


def test_once_a_session_is_over_the_wall_says_when_the_club_meets_again(day):
    term = day.session.term
    cancelled = make.SessionFactory(term=term, starts_at=NOW + dt.timedelta(days=7))
    SessionRun.objects.create(session=cancelled, changed_at=NOW, cancelled_at=NOW)
    make.SessionFactory(term=term, starts_at=NOW + dt.timedelta(days=14))
    ensure_safety_cards(day.club)
    with time_machine.travel(NOW + 95 * MINUTE, tick=False):
        page = page_of(day.as_coach.get(day.url))
    assert "Wednesday 2 December" in page and "wall-caution" not in page
    with time_machine.travel(NOW + 15 * MINUTE, tick=False):
        page = page_of(day.as_coach.get(day.url))
    assert "We meet again" not in page and "wall-caution" in page
