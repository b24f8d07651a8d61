"""Why a team is up twice in a row, and what else stands in the way of a good rota, said at its place."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from missions.day.rules.rota import PlannedTurn, RotaTable, RotaTask, RotaTeam
from missions.day.rules.rota_why import why_twice
from missions.day.services.plan_rota import solve_rota
from missions.day.services.run_session import lend_robot
from missions.models import PlannedMission, RotaTurn
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW


def task(*teams: RotaTeam, tables: tuple[RotaTable, ...] = (RotaTable(0), RotaTable(1))) -> RotaTask:
    return RotaTask((RotaTeam(1, "plain", robot="Kit 1"), *teams), tables, slots=4, most_turns=4)


MINE = (PlannedTurn(0, 0, 1), PlannedTurn(1, 0, 1))


@pytest.mark.parametrize(
    ("teams", "more", "words"),
    [
        ((), (), "every other team that can play is at a table then"),
        ((RotaTeam(2, "plain"),), (PlannedTurn(1, 1, 2),), "every other team that can play is at a table then"),
        ((RotaTeam(2, "plain", slots=frozenset({3})),), (), "every other team that can play is at a table then"),
        ((RotaTeam(2, "plain", robot="Kit 1"),), (), "no better rota was found"),
        ((RotaTeam(2, "plain", past_turns=9),), (), "fewest turns this term"),
        ((RotaTeam(2, "bank"),), (), "any other team would need the table laid anew"),
        ((RotaTeam(2, "plain"),), (PlannedTurn(2, 0, 2),), "the others play just before or after"),
        ((RotaTeam(2, "plain"),), (), "no better rota was found"),
    ],
)
def test_a_second_turn_in_a_row_has_its_reason(teams, more, words):
    assert why_twice(task(*teams), (*MINE, *more), MINE[1]) == words


def test_a_table_that_does_not_take_the_others_is_the_reason():
    narrow = (RotaTable(0, fits=frozenset({"plain"})),)
    assert why_twice(task(RotaTeam(2, "bank"), tables=narrow), MINE, MINE[1]) == (
        "what the others play does not stand at this table"
    )


def test_only_a_turn_after_a_turn_has_a_reason_and_a_hand_is_one():
    apart = (PlannedTurn(0, 0, 1), PlannedTurn(2, 0, 1))
    assert why_twice(task(), apart, apart[1]) == ""
    by_hand = PlannedTurn(1, 0, 1, by_hand=True)
    assert why_twice(task(), (MINE[0], by_hand), by_hand) == "set by hand"
    just = RotaTask((RotaTeam(1, "plain", just_played=True),), (RotaTable(0),), slots=2, most_turns=2)
    assert why_twice(just, MINE[:1], MINE[0]) != ""


@pytest.fixture
def page(day):
    PlannedMission.objects.create(session=day.session, mission=day.mission)
    day.said = lambda: page_of(day.as_coach.get(reverse("session", args=[day.session.pk])))
    return day


def test_a_team_without_a_robot_is_told_of_where_it_stands_with_what_to_do(page):
    assert "Plover has no robot: lend one." in page.said()
    robot = make.kit_out(page.team_b)
    assert "has no robot" not in page.said()
    robot.state = "in_repair"
    robot.save()
    assert f"Plover\u2019s {robot} is in repair: lend another." in page.said()
    lend_robot(page.session, page.team_b, make.RobotFactory(club=page.club))
    assert "lend another" not in page.said()


def test_a_table_that_is_too_small_for_the_mission_of_the_day_says_so(page, at_ten_past):
    small = make.TableFactory(club=page.club, name="Table B", width_mm=900, depth_mm=600, order=9)
    assert f"Table B is too small for {page.mission}." in page.said()
    PlannedMission.objects.update(table=page.tables[0])
    said = page.said()
    assert "The plan has nothing for Table B: it names other tables." in said
    small.width_mm, small.depth_mm = 2400, 1200
    small.save()
    PlannedMission.objects.update(table=small)
    assert "too small" not in page.said()


def test_a_team_that_fits_no_table_and_one_that_got_no_turn_are_named(page):
    for table in page.tables:
        table.width_mm = 900
        table.save()
    assert f"No table is large enough, or meant, for {page.mission}." in page.said()
    for table in page.tables:
        table.width_mm = 2400
        table.save()
    make.kit_out(page.team_b)
    RotaTurn.objects.create(session=page.session, slot=0, table=page.tables[0], team=page.team_a)
    assert "No turn for Plover: more teams than places. It comes first next time." in page.said()


def test_who_had_fewest_turns_this_term_is_said_beside_the_rota(page):
    make.kit_out(page.team_b)
    for slot in range(3):
        RotaTurn.objects.create(session=page.session, slot=2 * slot, table=page.tables[0], team=page.team_a)
    RotaTurn.objects.create(session=page.session, slot=1, table=page.tables[0], team=page.team_b)
    assert "Fewest turns this term: Plover 1." in page.said()


def test_turns_in_a_row_are_listed_with_their_reason(page, at_ten_past):
    solve_rota(page.session, now=NOW - dt.timedelta(minutes=1))
    said = page.said()
    assert "twice in a row: why" in said
    assert "Curlew: every other team that can play is at a table then." in said
