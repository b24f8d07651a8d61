"""A session's rows as a task for the planner, and the planner's answer as rows: slot by slot, table by table."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import InputError
from classroom.models import RobotAssignment
from missions.day.pages.teams import tables_of, teams_of_day
from missions.day.rules.rota import GoalResult, PlannedTurn, Rota
from missions.day.services.plan_rota import (
    clock_of,
    hold_run,
    rota_task,
    run_as_is,
    run_of,
    solve_rota,
)
from missions.day.services.run_session import lend_robot, set_team_day
from missions.models import PlannedMission, Progress, RotaTurn, SessionRun
from tests import factories as make
from tests.log import tells_live_pages

NOW = make.NOW
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def layout(day):
    return teams_of_day(day.session)[0].layout


@pytest.fixture
def two_robots(day):
    """Both teams of the day can play."""
    return make.kit_out(day.team_b)


def turn(session, slot, table, team, **other):
    return RotaTurn.objects.create(session=session, slot=slot, table=table, team=team, **other)


def task_of(session, first=0, *, needs_first=True):
    return rota_task(
        session,
        clock_of(run_of(session, NOW)),
        first,
        teams_of_day(session),
        tables_of(session),
        list(RotaTurn.objects.filter(session=session)),
        needs_first=needs_first,
    )


def team_in(session, team, first=0, **how):
    return next(one for one in task_of(session, first, **how)[0].teams if one.key == team.pk)


@pytest.fixture
def planner():
    """In place of the planner: it gives back the turns in ``answer`` and keeps what it was asked."""

    class Planner:
        answer: tuple[PlannedTurn, ...] = ()
        asked = None

        def __call__(self, task):
            self.asked = task
            return Rota(self.answer, {}, (GoalResult("empty", 2, 1),))

    return Planner()


# How a session is run


def test_a_session_begins_with_the_usual_settings_and_a_look_writes_nothing(day):
    look = run_as_is(day.session, NOW)
    assert (look.pk, look.slot_minutes, look.changed_at, look.session) == (None, 10, NOW, day.session)
    assert not SessionRun.objects.exists()
    for made in (run_of(day.session, NOW), run_of(day.session, NOW + MINUTE), hold_run(day.session, NOW)):
        assert (made.changed_at, made.session) == (NOW, day.session)
    SessionRun.objects.update(slot_minutes=15)
    assert run_as_is(day.session, NOW).slot_minutes == 15
    assert SessionRun.objects.count() == 1


@pytest.mark.parametrize(("began", "count"), [(0, 9), (31, 5), (91, 0)])
def test_slots_are_counted_from_the_moment_of_the_real_start(day, began, count):
    SessionRun.objects.create(session=day.session, changed_at=NOW, started_at=NOW + began * MINUTE)
    clock = clock_of(run_of(day.session, NOW))
    assert (clock.begins, clock.count) == (NOW + began * MINUTE, count)
    assert clock.ends == NOW + max(90, began) * MINUTE


# From which slot on


@pytest.mark.parametrize(
    ("minute", "stands", "first"),
    [
        (-1, None, 0),
        (0, None, 0),
        (4.99, None, 0),
        (5, None, 1),
        (4, 0, 1),
        (4, 1, 0),
        (14, None, 1),
        (14, 0, 1),
        (14, 1, 2),
        (14, 2, 1),
        (15, None, 2),
        (84, None, 8),
        (84, 8, None),
        (86, None, None),
        (90, None, None),
        (93, None, None),
    ],
)
def test_planning_begins_with_the_next_slot_or_with_the_present_one_in_its_first_half(
    day, planner, minute, stands, first
):
    if stands is not None:
        turn(day.session, stands, day.tables[0], day.team_a)
    if minute >= 0:
        SessionRun.objects.create(session=day.session, changed_at=NOW, started_at=NOW)
    act = lambda: solve_rota(day.session, now=NOW + minute * MINUTE, solve=planner)  # noqa: E731
    if first is None:
        with pytest.raises(InputError) as refused:
            act()
        assert (refused.value.code, refused.value.message) == (
            "no_slots",
            "No slot is left. Make the slots shorter or the session longer.",
        )
    else:
        act()
        assert planner.asked.slots == 9 - first


# The task


def test_table_time_of_today_and_of_the_term_is_counted_in_turns_of_today(day, two_robots):
    earlier = make.SessionFactory(term=day.session.term, starts_at=NOW - dt.timedelta(days=7))
    SessionRun.objects.create(session=earlier, slot_minutes=15, changed_at=NOW)
    for slot in range(3):
        turn(earlier, slot, day.tables[0], day.team_a)
    for slot, team in [(0, day.team_a), (1, day.team_b), (2, day.team_a), (3, day.team_a)]:
        turn(day.session, slot, day.tables[0], team)
    # 45 minutes are four and a half turns of ten, which rounds to the even number.
    assert [team_in(day.session, day.team_a, first).past_turns for first in (0, 1, 2, 3, 4)] == [4, 5, 5, 6, 7]
    assert [team_in(day.session, day.team_b, first).past_turns for first in (0, 1, 2, 3)] == [0, 0, 1, 1]


@pytest.mark.parametrize(("first", "just_played"), [(2, False), (3, True), (4, False)])
def test_who_had_the_slot_before_has_just_played(day, two_robots, first, just_played):
    turn(day.session, 2, day.tables[0], day.team_a)
    turn(day.session, 2, day.tables[1], None, by_hand=True)
    turn(day.session, 4, day.tables[1], day.team_b)
    assert team_in(day.session, day.team_a, first).just_played is just_played
    assert team_in(day.session, day.team_b, first).just_played is False


def test_a_team_is_told_by_its_set_up_its_robot_and_whether_it_needs_a_look_before_its_first_turn(day, layout):
    lent = make.RobotFactory(club=day.club)
    lend_robot(day.session, day.team_b, lent)
    third = make.TeamFactory(club=day.club)
    third_robot = make.kit_out(third)
    look = {"answer": "look", "why": "Stuck."}
    PlannedMission.objects.create(session=day.session, mission=day.mission)
    for team in (day.team_a, day.team_b):
        make.ProgressFactory(team=team, tier=day.editions[0].tier, **(look if team == day.team_a else {}))
    turn(day.session, 1, day.tables[0], day.team_a)
    a, b, c = (team_in(day.session, team, 1) for team in (day.team_a, day.team_b, third))
    assert [(one.layout, one.robot, one.first, one.slots) for one in (a, b, c)] == [
        (layout, day.robot_a.pk, True, None),
        (layout, lent.pk, False, None),
        (layout, third_robot.pk, False, None),
    ]
    assert team_in(day.session, day.team_a, 1, needs_first=False).first is False
    assert team_in(day.session, day.team_a, 2).first is False, "it has had a turn today"
    Progress.objects.all().delete()
    assert team_in(day.session, day.team_a, 1).first is False


@pytest.mark.parametrize(
    ("late_minutes", "first", "slots"),
    [(20, 0, range(2, 9)), (21, 0, range(3, 9)), (20, 1, range(1, 8)), (20, 4, range(5))],
)
def test_a_late_team_is_here_from_the_slot_that_begins_as_it_comes(day, late_minutes, first, slots):
    set_team_day(day.session, day.team_a, late_minutes=late_minutes, now=NOW)
    assert team_in(day.session, day.team_a, first).slots == frozenset(slots)


def test_only_teams_that_are_here_are_shared_out_and_each_gets_its_even_share_and_one(day):
    teams = [make.TeamFactory(club=day.club) for _ in range(3)]
    for team in [day.team_b, *teams]:
        make.kit_out(team)
    set_team_day(day.session, teams[0], away=True, now=NOW)
    task, _ = task_of(day.session, 2)
    assert {team.key for team in task.teams} == {day.team_a.pk, day.team_b.pk, teams[1].pk, teams[2].pk}
    # Two tables for seven slots are 14 places, 3.5 a team.
    assert (task.slots, task.most_turns) == (7, 5)


@pytest.mark.parametrize(("first", "laid"), [(0, None), (1, "first"), (2, "first"), (3, "second"), (4, "second")])
def test_a_table_stands_as_it_was_laid_last(day, first, laid):
    turn(day.session, 2, day.tables[0], day.team_a, layout="second")
    turn(day.session, 0, day.tables[0], day.team_a, layout="first")
    turn(day.session, 1, day.tables[0], None, by_hand=True, layout="free")
    turn(day.session, 0, day.tables[1], day.team_b, layout="other")
    task, _ = task_of(day.session, first)
    assert [table.key for table in task.tables] == [table.pk for table in day.tables]
    assert task.tables[0].laid == laid


@pytest.mark.parametrize(
    ("width_mm", "depth_mm", "fits"),
    [(2399, 1199, True), (2398, 1199, False), (2399, 1198, False), (2400, 1200, True)],
)
def test_a_table_may_be_a_millimetre_smaller_than_what_is_laid_on_it(day, layout, width_mm, depth_mm, fits):
    make.TableFactory(club=day.club, width_mm=width_mm, depth_mm=depth_mm, order=9)
    task, _ = task_of(day.session)
    assert [table.fits for table in task.tables] == [{layout}, {layout}, {layout} if fits else set()]


@pytest.mark.parametrize(
    ("named", "fits"), [([], (True, True)), ([0], (True, False)), ([None], (True, True)), ([0, None], (True, True))]
)
def test_a_mission_is_laid_on_the_tables_that_the_plan_names(day, layout, named, fits):
    other = make.SessionFactory(term=day.session.term, starts_at=NOW + dt.timedelta(days=7))
    PlannedMission.objects.create(session=other, mission=day.mission, table=day.tables[1])
    for number, at in enumerate(named):
        table = None if at is None else day.tables[at]
        PlannedMission.objects.create(session=day.session, mission=day.mission, table=table, order=number)
    task, _ = task_of(day.session)
    assert tuple(table.fits == {layout} for table in task.tables) == fits


# What a hand has set


def test_what_was_set_by_hand_stays_from_the_first_slot_on_counted_from_it(day):
    a, b = day.tables
    turn(day.session, 1, a, day.team_a, by_hand=True)
    kept = turn(day.session, 2, a, day.team_a, by_hand=True)
    free = turn(day.session, 2, b, None, by_hand=True)
    turn(day.session, 3, a, day.team_b)
    last = turn(day.session, 8, b, day.team_b, by_hand=True)
    turn(day.session, 9, b, day.team_b, by_hand=True)
    task, stays = task_of(day.session, 2)
    assert task.by_hand == (
        PlannedTurn(0, a.pk, day.team_a.pk, by_hand=True),
        PlannedTurn(6, b.pk, day.team_b.pk, by_hand=True),
    )
    assert task.kept_free == {(b.pk, 0)}
    assert stays == {(0, a.pk): kept.pk, (0, b.pk): free.pk, (6, b.pk): last.pk}
    assert task.earlier == (
        PlannedTurn(0, a.pk, day.team_a.pk),
        PlannedTurn(1, a.pk, day.team_b.pk),
        PlannedTurn(6, b.pk, day.team_b.pk),
    )


@pytest.mark.parametrize("case", ["away", "late", "small", "put away", "free, put away"])
def test_what_was_set_by_hand_and_cannot_be_any_more_is_planned_anew(day, case):
    table, team = day.tables[0], None if case == "free, put away" else day.team_a
    turn(day.session, 2, table, team, by_hand=True)
    assert len(task_of(day.session)[1]) == 1
    if case == "away":
        set_team_day(day.session, day.team_a, away=True, now=NOW)
    elif case == "late":
        set_team_day(day.session, day.team_a, late_minutes=21, now=NOW)
    elif case == "small":
        table.width_mm = 900
    else:
        table.retired_at = NOW
    table.save()
    task, stays = task_of(day.session)
    assert (task.by_hand, task.kept_free, stays) == ((), frozenset(), {})
    assert len(task.earlier) == (0 if case in ("away", "free, put away") else 1)


# The rows


def test_the_answer_takes_the_place_of_what_is_ahead_and_of_nothing_else(day, planner, layout):
    a, b = day.tables
    other = make.SessionFactory(term=day.session.term, starts_at=NOW + dt.timedelta(days=7))
    turn(other, 5, a, day.team_a)
    SessionRun.objects.create(session=other, changed_at=NOW)
    SessionRun.objects.create(session=day.session, changed_at=NOW, started_at=NOW)
    turn(day.session, 1, a, day.team_b)
    turn(day.session, 2, a, day.team_b)
    turn(day.session, 3, a, day.team_a, by_hand=True)
    planner.answer = (PlannedTurn(0, b.pk, day.team_a.pk), PlannedTurn(1, a.pk, day.team_a.pk, by_hand=True))
    asked = lambda: solve_rota(day.session, now=NOW + 12 * MINUTE, solve=planner)  # noqa: E731
    assert tells_live_pages(asked, day.club)
    rows = RotaTurn.objects.filter(session=day.session).order_by("slot", "pk")
    assert [(row.slot, row.table, row.team, row.by_hand) for row in rows] == [
        (1, a, day.team_b, False),
        (2, b, day.team_a, False),
        (3, a, day.team_a, True),
    ]
    assert (rows[1].tier, rows[1].layout) == (day.editions[0].tier, layout)
    assert RotaTurn.objects.filter(session=other).count() == 1
    run = SessionRun.objects.get(session=day.session)
    assert (run.solved_at, run.goals) == (NOW + 12 * MINUTE, [{"name": "empty", "value": 2, "bound": 1}])
    assert SessionRun.objects.get(session=other).solved_at is None


# Who can play


def test_a_team_whose_robot_is_in_repair_gets_no_turn_and_one_with_a_robot_does(day, two_robots):
    day.robot_a.state = "in_repair"
    day.robot_a.save()
    assert [team.key for team in task_of(day.session)[0].teams] == [day.team_b.pk]
    lend_robot(day.session, day.team_a, make.RobotFactory(club=day.club))
    assert {team.key for team in task_of(day.session)[0].teams} == {day.team_a.pk, day.team_b.pk}


def test_a_team_without_a_robot_stands_only_where_a_coach_has_put_it(day):
    turn(day.session, 3, day.tables[0], day.team_b, by_hand=True)
    assert team_in(day.session, day.team_b).slots == frozenset({3})
    assert team_in(day.session, day.team_b, 2).slots == frozenset({1})
    assert team_in(day.session, day.team_b, 3).slots == frozenset({0})
    assert team_in(day.session, day.team_a).slots is None


def test_a_club_that_has_put_down_no_robots_is_not_asked_for_them(day):
    RobotAssignment.objects.all().delete()
    assert {team.key for team in task_of(day.session)[0].teams} == {day.team_a.pk, day.team_b.pk}


def test_a_team_without_children_gets_no_turn_while_others_have_some(day, two_robots):
    empty = make.TeamFactory(club=day.club)
    make.RobotAssignmentFactory(team=empty, robot=make.RobotFactory(club=day.club))
    assert {team.key for team in task_of(day.session)[0].teams} == {day.team_a.pk, day.team_b.pk}
