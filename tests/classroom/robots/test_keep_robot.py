"""What is written for a robot, its team and its service, to the row."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, InputError
from classroom.models import Robot, RobotAssignment, ServiceNote, Spare
from classroom.robots.services.keep_robot import (
    AS_BUILT,
    add_robot,
    assign_robot,
    change_robot,
    finish_service,
    note_service,
    robot_mark,
    set_robot_state,
)
from tests import factories as make

NOW = make.NOW
TODAY = dt.date(2026, 11, 18)
LATER = dt.date(2026, 11, 25)
#: What the robot's form sets, each with another value than a robot of the factory has.
OTHERWISE = {
    "name": "Kit 8",
    "travel_footprint": [[[0, 0], [10, 0], [0, 10]]],
    "working_footprint": [[[0, 0], [20, 0], [0, 20]]],
    "tool_seconds": 1.5,
    "wheel_diameter_mm": 57,
    "track_width_mm": 113,
    "speed_mm_s": 251,
    "acceleration_mm_s2": 501,
    "push_speed_mm_s": 121,
    "turn_rate_deg_s": 151,
    "turn_acceleration_deg_s2": 501,
    "settle_s": 0.3,
    "distance_step_mm": 11,
    "turn_step_deg": 2,
    "min_leg_mm": 21,
    "min_back_off_mm": 41,
    "yaw_sense": "cw",
    "yaw_reference": "relative",
}


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


@pytest.mark.parametrize("field", OTHERWISE)
def test_a_robots_mark_changes_with_each_thing_that_its_form_shows(cast, field):
    seen = robot_mark(Robot.objects.get(pk=cast.robot_a.pk))
    Robot.objects.filter(pk=cast.robot_a.pk).update(**{field: OTHERWISE[field]})
    assert robot_mark(Robot.objects.get(pk=cast.robot_a.pk)) != seen


def test_the_mark_is_of_nothing_else():
    assert sorted(OTHERWISE) == sorted(AS_BUILT)


def test_a_new_robot_stands_last_in_its_club_and_is_new_today(cast):
    make.RobotFactory.create_batch(2, club=cast.other_coach.club)
    values = OTHERWISE | {"tool_seconds": 0}
    robot = Robot.objects.get(pk=add_robot(cast.club, cast.coach, values, now=NOW).pk)
    assert (robot.club, robot.order, robot.changed_at, robot.track_width_mm) == (cast.club, 1, NOW, 113)


@pytest.mark.parametrize(("rebuilt", "changed_at"), [(False, NOW - dt.timedelta(days=60)), (True, NOW)])
def test_only_a_robot_built_anew_makes_what_came_before_old(cast, rebuilt, changed_at):
    change_robot(cast.robot_a, cast.coach, OTHERWISE, rebuilt=rebuilt, now=NOW)
    robot = Robot.objects.get(pk=cast.robot_a.pk)
    assert robot.changed_at == changed_at
    assert {field: getattr(robot, field) for field in OTHERWISE} == OTHERWISE


@pytest.mark.parametrize("rebuilt", [False, True])
def test_the_slower_of_two_hears_who_changed_the_robot(cast, rebuilt):
    seen = robot_mark(Robot.objects.get(pk=cast.robot_a.pk))
    change_robot(cast.robot_a, cast.assistant, {"settle_s": 0.3}, rebuilt=rebuilt, now=NOW)
    code, words = refused(
        ConflictError, lambda: change_robot(cast.robot_a, cast.coach, {}, rebuilt=False, seen=seen, now=NOW)
    )
    assert code == "changed_meanwhile" and words.startswith(f"{cast.assistant} changed this")


def stays():
    rows = RobotAssignment.objects.order_by("pk")
    return [(row.robot.name, row.team.name, row.from_on, row.to_on) for row in rows]


def test_a_robot_that_is_given_on_ends_both_stays_of_before(cast):
    other = make.RobotFactory(club=cast.club, name="Kit 2")
    make.RobotAssignmentFactory(team=cast.team_b, robot=other)
    third = make.RobotAssignmentFactory(team__club=cast.club, team__name="Knot", robot__name="Kit 3")
    made = assign_robot(cast.robot_a, cast.team_b, cast.coach, now=NOW)
    begin = dt.date(2026, 9, 14)
    assert third.team.club == cast.club and stays() == [
        ("Kit 1", "Curlew", begin, TODAY),
        ("Kit 2", "Plover", begin, TODAY),
        ("Kit 3", "Knot", begin, None),
        ("Kit 1", "Plover", TODAY, None),
    ]
    assert (made.robot, made.team) == (cast.robot_a, cast.team_b)


def test_giving_again_gives_the_stay_that_is_there(cast):
    assert assign_robot(cast.robot_a, cast.team_a, cast.coach, now=NOW) == RobotAssignment.objects.get()


def test_taking_a_robot_back_ends_that_stay_and_no_other(cast):
    other = make.RobotFactory(club=cast.club, name="Kit 2")
    make.RobotAssignmentFactory(team=cast.team_b, robot=other)
    make.RobotAssignmentFactory(team=cast.team_a, robot=cast.robot_a, to_on=dt.date(2026, 10, 1))
    assert assign_robot(cast.robot_a, None, cast.coach, now=NOW) is None
    assert [row[3] for row in stays()] == [TODAY, None, dt.date(2026, 10, 1)]


def test_a_stay_that_begins_later_ends_when_it_begins(cast):
    RobotAssignment.objects.update(from_on=LATER)
    assign_robot(cast.robot_a, None, cast.coach, now=NOW)
    assert RobotAssignment.objects.get().to_on == LATER


def test_a_robot_in_repair_goes_to_no_team_but_may_be_taken_back(cast):
    set_robot_state(cast.robot_a, "in_repair", cast.coach, now=NOW)
    assert Robot.objects.get(pk=cast.robot_a.pk).state == "in_repair"
    assert refused(ConflictError, lambda: assign_robot(cast.robot_a, cast.team_b, cast.coach, now=NOW)) == (
        "in_repair",
        "Kit 1 is in repair; put it back in service first.",
    )
    assign_robot(cast.robot_a, None, cast.coach, now=NOW)
    set_robot_state(cast.robot_a, "resting", cast.coach, now=NOW)
    assert assign_robot(cast.robot_a, cast.team_b, cast.coach, now=NOW) is not None


def test_what_is_another_clubs_is_refused_with_its_own_words(cast):
    theirs = make.TeamFactory(club=cast.other_coach.club)
    spare = Spare.objects.create(club=cast.other_coach.club, name="Tyre", on_hand=5)
    assert refused(InputError, lambda: assign_robot(cast.robot_a, theirs, cast.coach, now=NOW)) == (
        "other_club",
        "This team is not of the robot's club.",
    )
    assert refused(InputError, lambda: note(cast, spare=spare)) == (
        "other_club",
        "This spare is not of the robot's club.",
    )


def note(cast, **other):
    values = {"kind": "part", "text": "New tyres on", "due_on": None} | other
    return note_service(cast.robot_a, cast.coach, now=NOW, **values)


@pytest.mark.parametrize(("due_on", "done_on"), [(None, TODAY), (LATER, None)])
def test_a_note_without_a_date_is_done_and_one_with_a_date_waits(cast, due_on, done_on):
    made = ServiceNote.objects.get(pk=note(cast, due_on=due_on).pk)
    assert (made.robot, made.kind, made.text, made.on) == (cast.robot_a, "part", "New tyres on", TODAY)
    assert (made.due_on, made.done_on, made.spare, made.spare_count, made.by) == (due_on, done_on, None, 0, cast.coach)


@pytest.mark.parametrize(("typed", "taken"), [(0, 1), (1, 1), (2, 2)])
def test_a_note_with_a_spare_takes_one_at_least(cast, typed, taken):
    tyre = Spare.objects.create(club=cast.club, name="Tyre", on_hand=5)
    assert note(cast, spare=tyre, spare_count=typed).spare_count == taken
    assert Spare.objects.get().on_hand == 5 - taken


def test_a_note_without_a_spare_takes_none_whatever_was_typed(cast):
    assert note(cast, spare_count=3).spare_count == 0


def test_a_note_that_does_not_say_how_many_takes_one(cast):
    tyre = Spare.objects.create(club=cast.club, name="Tyre", on_hand=5)
    assert note(cast, spare=tyre).spare_count == 1


def test_a_spare_off_the_list_is_refused_by_its_name(cast):
    tyre = Spare.objects.create(club=cast.club, name="Tyre", on_hand=5, retired_at=NOW)
    assert refused(ConflictError, lambda: note(cast, spare=tyre)) == (
        "spare_gone",
        "Tyre has been taken off the list. Choose another.",
    )


def test_a_service_is_done_on_the_day_that_somebody_first_said_so(cast):
    due = note(cast, due_on=LATER)
    finish_service(due, cast.coach, now=NOW)
    finish_service(due, cast.coach, now=NOW + dt.timedelta(days=3))
    assert ServiceNote.objects.get().done_on == TODAY
