"""The rota of a session: from rows and to rows, from the present on, with a coach's hand in it."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from classroom.errors import ConflictError, InputError
from classroom.models import RobotAssignment
from missions.day.rules.clock import DayClock
from missions.day.services import plan_rota as planning
from missions.day.services.change_rota import let_go, move_turn, set_place
from missions.day.services.plan_rota import solve_rota
from missions.day.services.run_session import lend_robot, mark_child, set_team_day
from missions.models import PlannedMission, RotaTurn, SessionRun
from missions.term.services.plan_term import place_missions
from tests import factories as make

NOW = make.NOW
MINUTE = dt.timedelta(minutes=1)


def solve(session, now=NOW):
    return solve_rota(session, now=now)


@pytest.fixture
def day(cast):
    """Four teams, two tables, nine turns of ten minutes from 16:00."""
    cast.mission, cast.editions = make.mission_with_tiers(cast.club)
    cast.teams = [cast.team_a, cast.team_b] + [
        make.TeamFactory(club=cast.club, name=n, order=5) for n in ("Heron", "Knot")
    ]
    for team in cast.teams[1:]:
        make.kit_out(team)
    cast.tables = [make.TableFactory(club=cast.club, name=f"Table {n}", order=n) for n in (1, 2)]
    term = make.TermFactory(club=cast.club)
    cast.session = make.SessionFactory(term=term, starts_at=NOW, ends_at=NOW + 90 * MINUTE)
    PlannedMission.objects.create(session=cast.session, mission=cast.mission)
    SessionRun.objects.create(session=cast.session, changed_at=NOW, started_at=NOW)
    return cast


def turns(session, **where):
    return list(RotaTurn.objects.filter(session=session, **where))


def test_a_rota_is_kept_with_the_tier_that_each_team_works_on(day):
    make.ProgressFactory(team=day.team_a, tier=day.editions[0].tier, state="passed")
    make.ProgressFactory(team=day.team_a, tier=day.editions[1].tier, state="working")
    rota = solve(day.session)
    assert rota.goal("empty").value == 0
    assert len(turns(day.session)) == 18
    assert {turn.tier for turn in turns(day.session, team=day.team_a)} == {day.editions[1].tier}
    assert {turn.tier for turn in turns(day.session, team=day.team_b)} == {day.editions[0].tier}


def test_the_timed_tier_shares_its_set_up_with_the_tier_that_has_the_same_obstacles(day):
    make.ProgressFactory(team=day.team_a, tier=day.editions[1].tier)
    make.ProgressFactory(team=day.team_b, tier=day.editions[2].tier)
    solve(day.session)
    layouts = {turn.team: turn.layout for turn in turns(day.session)}
    assert layouts[day.team_a] == layouts[day.team_b] != layouts[day.teams[2]]


def test_a_team_whose_children_are_all_away_gets_no_turn(day):
    mark_child(day.session, day.member_a, False)
    solve(day.session)
    assert not turns(day.session, team=day.team_a)
    mark_child(day.session, day.member_a, True)
    solve(day.session)
    assert turns(day.session, team=day.team_a)


def test_a_late_team_gets_its_turns_after_it_has_come_and_the_others_keep_most_of_theirs(day):
    solve(day.session)
    before = {(turn.team_id, turn.slot) for turn in turns(day.session)}
    set_team_day(day.session, day.team_a, late_minutes=30, now=NOW)
    rota = solve(day.session, NOW - MINUTE)
    assert min(turn.slot for turn in turns(day.session, team=day.team_a)) >= 3
    after = {(turn.team_id, turn.slot) for turn in turns(day.session)}
    assert len(before - after) == rota.goal("moved").value


def test_solving_again_in_the_middle_leaves_what_has_begun_as_it_is(day):
    solve(day.session)
    begun = {(t.slot, t.table_id, t.team_id) for t in turns(day.session, slot__lte=3)}
    set_team_day(day.session, day.team_b, away=True, now=NOW + 35 * MINUTE)
    solve(day.session, NOW + 35 * MINUTE)
    assert {(t.slot, t.table_id, t.team_id) for t in turns(day.session, slot__lte=3)} == begun
    assert not turns(day.session, team=day.team_b, slot__gt=3)


def test_table_time_of_earlier_sessions_of_the_term_counts(day):
    earlier = make.SessionFactory(term=day.session.term, starts_at=NOW - dt.timedelta(days=7))
    SessionRun.objects.create(session=earlier, slot_minutes=10, changed_at=NOW)
    for slot in range(4):
        RotaTurn.objects.create(session=earlier, slot=slot, table=day.tables[0], team=day.team_a)
    solve(day.session)
    counts = [len(turns(day.session, team=team)) for team in day.teams]
    assert counts[0] < min(counts[1:])


def test_a_cancelled_session_counts_as_table_time_for_nobody(day):
    earlier = make.SessionFactory(term=day.session.term, starts_at=NOW - dt.timedelta(days=7))
    SessionRun.objects.create(session=earlier, changed_at=NOW, cancelled_at=NOW)
    RotaTurn.objects.create(session=earlier, slot=0, table=day.tables[0], team=day.team_a)
    assert RotaTurn.objects.minutes_before(day.session) == {}


def test_teams_that_share_a_robot_for_the_day_are_never_up_together(day):
    lend_robot(day.session, day.team_b, day.robot_a)
    solve(day.session)
    both = {turn.slot for turn in turns(day.session, team=day.team_a)} & {
        turn.slot for turn in turns(day.session, team=day.team_b)
    }
    assert not both
    assert turns(day.session, team=day.team_b)


def test_a_robot_in_repair_is_not_at_hand(day):
    day.robot_a.state = "in_repair"
    day.robot_a.save()
    with pytest.raises(InputError) as refusal:
        lend_robot(day.session, day.team_b, day.robot_a)
    assert refusal.value.code == "robot_not_at_hand"


def test_a_team_that_needs_a_look_comes_first_when_the_coach_asks(day):
    make.ProgressFactory(team=day.teams[3], tier=day.editions[0].tier, answer="look", why="Stuck.")
    solve(day.session)
    assert turns(day.session, team=day.teams[3], slot=0)


def test_what_a_hand_set_stays_through_the_next_plan(day):
    solve(day.session)
    knot = day.teams[3]
    set_place(day.session, slot=4, table=day.tables[1], team=knot, now=NOW)
    set_place(day.session, slot=5, table=day.tables[0], team=None, now=NOW)
    solve(day.session, NOW - MINUTE)
    (placed,) = turns(day.session, slot=4, table=day.tables[1])
    (free,) = turns(day.session, slot=5, table=day.tables[0])
    assert placed.team == knot and placed.by_hand
    assert free.team is None


def test_a_moved_turn_changes_places_with_the_team_that_stands_there(day):
    solve(day.session)
    here = turns(day.session, slot=2, table=day.tables[0])[0]
    there = RotaTurn.objects.filter(session=day.session, slot=6).exclude(team=here.team).first()
    if RotaTurn.objects.filter(session=day.session, slot=6, team=here.team).exists():
        RotaTurn.objects.filter(session=day.session, slot=6, team=here.team).delete()
    RotaTurn.objects.filter(session=day.session, slot=2, team=there.team).exclude(pk=here.pk).delete()
    mover, other = here.team, there.team
    move_turn(here, slot=6, table=there.table, now=NOW)
    assert turns(day.session, slot=6, table=there.table)[0].team == mover
    assert turns(day.session, slot=2, table=day.tables[0])[0].team == other


def test_a_place_given_back_is_planned_again(day):
    free = set_place(day.session, slot=0, table=day.tables[0], team=None, now=NOW - MINUTE)
    let_go(free, now=NOW - MINUTE)
    solve(day.session, NOW - MINUTE)
    assert turns(day.session, slot=0, table=day.tables[0])[0].team is not None


@pytest.mark.parametrize("case", ["over", "no_slot", "small", "robot", "away", "late"])
def test_a_hand_cannot_set_what_cannot_be(day, case):
    slot, table, team, now = 5, day.tables[0], day.team_b, NOW
    code = {"over": "slot_over", "no_slot": "no_such_slot", "small": "table_too_small", "robot": "robot_taken"}.get(
        case, "not_here"
    )
    if case == "over":
        now = NOW + 75 * MINUTE
    elif case == "no_slot":
        slot = 9
    elif case == "small":
        table = make.TableFactory(club=day.club, width_mm=900, depth_mm=600)
    elif case == "robot":
        set_place(day.session, slot=5, table=day.tables[1], team=day.team_a, now=now)
        lend_robot(day.session, day.team_b, day.robot_a)
    elif case == "away":
        set_team_day(day.session, team, away=True, now=now)
    elif case == "late":
        set_team_day(day.session, team, late_minutes=70, now=now)
    before = len(turns(day.session))
    with pytest.raises(InputError) as refusal:
        set_place(day.session, slot=slot, table=table, team=team, now=now)
    assert refusal.value.code == code
    assert len(turns(day.session)) == before


def test_a_turn_set_for_a_team_that_has_left_is_planned_for_others(day):
    set_place(day.session, slot=4, table=day.tables[0], team=day.team_b, now=NOW)
    set_team_day(day.session, day.team_b, away=True, now=NOW)
    solve(day.session)
    assert not turns(day.session, team=day.team_b)
    assert turns(day.session, slot=4, table=day.tables[0])


def test_a_mission_tied_to_a_table_is_played_only_there(day):
    place_missions(day.session, {day.mission.pk: day.tables[1]}, now=NOW)
    solve(day.session)
    assert {turn.table for turn in turns(day.session)} == {day.tables[1]}


@pytest.mark.parametrize("lacking", ["tables", "teams", "slots", "missions"])
def test_without_something_to_share_out_the_coach_is_told_what_to_do(day, lacking):
    if lacking == "tables":
        for table in day.tables:
            table.delete()
    elif lacking == "teams":
        for team in day.teams:
            set_team_day(day.session, team, away=True, now=NOW)
    elif lacking == "missions":
        for edition in day.editions:
            edition.version.published_at = None
            edition.version.save()
    else:
        day.session.ends_at = NOW + 4 * MINUTE
        day.session.save()
    with pytest.raises(InputError) as refusal:
        solve(day.session)
    assert refusal.value.code == {"missions": "no_teams"}.get(lacking, f"no_{lacking}")
    assert refusal.value.message.endswith(".")


def test_a_change_made_while_the_rota_was_worked_out_is_not_lost(day):
    solve(day.session)

    def meanwhile(task):
        found = real(task)
        set_place(day.session, slot=8, table=day.tables[0], team=None, now=NOW)
        return found

    real = planning.first_rota
    with pytest.raises(ConflictError) as refusal:
        solve_rota(day.session, now=NOW, solve=meanwhile)
    assert refusal.value.code == "changed_meanwhile"
    assert turns(day.session, slot=8, table=day.tables[0])[0].team is None


@pytest.mark.parametrize(("field", "code"), [("cancelled_at", "session_cancelled"), ("stopped_at", "session_over")])
def test_a_closed_session_is_not_planned(day, field, code):
    SessionRun.objects.filter(session=day.session).update(**{field: NOW})
    with pytest.raises(InputError) as refusal:
        solve(day.session)
    assert refusal.value.code == code


def test_planning_asks_the_database_no_more_with_more_teams(day):
    def count():
        with CaptureQueriesContext(connection) as seen:
            solve(day.session)
        return len(seen)

    solve(day.session)
    first = count()
    for n in range(10):
        team = make.TeamFactory(club=day.club, name=f"Wader {n}", order=9)
        make.MembershipFactory(team=team)
        RobotAssignment.objects.create(robot=make.RobotFactory(club=day.club), team=team, from_on=NOW.date())
    assert count() == first


def test_slots_are_counted_in_real_minutes_when_clocks_go_back():
    london = ZoneInfo("Europe/London")
    begins = dt.datetime(2026, 10, 25, 0, 30, tzinfo=london)
    clock = DayClock(begins, dt.datetime(2026, 10, 25, 2, 30, tzinfo=london), 20)
    assert clock.count == 9, "two hours on the wall, three on the clock that runs on"
    assert clock.slot_at(begins - MINUTE) == -1
    assert clock.starts(4) == dt.datetime(2026, 10, 25, 0, 50, tzinfo=dt.UTC)
    assert clock.slot_at(clock.starts(4) + 19 * MINUTE) == 4
    assert clock.slot_at(clock.starts(30)) == 9
    assert clock.first_from(clock.starts(3)) == 3
    assert clock.first_from(clock.starts(3) + MINUTE) == 4
    assert clock.first_from(begins - MINUTE) == 0


def test_a_turn_that_two_coaches_move_at_once_is_moved_by_one(day):
    """Found in review: the second found the turn gone and made another, so the team had two."""
    made = set_place(day.session, slot=5, table=day.tables[0], team=day.team_a, now=NOW)
    same = RotaTurn.objects.select_related("session__term__club", "team", "table").get(pk=made.pk)
    move_turn(made, slot=6, table=day.tables[0], now=NOW)
    with pytest.raises(ConflictError) as refused:
        move_turn(same, slot=7, table=day.tables[0], now=NOW)
    assert refused.value.code == "turn_gone"
    assert list(RotaTurn.objects.filter(team=day.team_a, by_hand=True).values_list("slot", flat=True)) == [6]
