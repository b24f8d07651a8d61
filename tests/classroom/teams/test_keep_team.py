"""What is written for a team and its members, to the row: nobody else's is touched."""

from __future__ import annotations

import datetime as dt

import pytest
from django.contrib.auth.hashers import check_password

from classroom.errors import ConflictError, InputError
from classroom.models import Member, Membership, RobotAssignment, TabletSession, Team
from classroom.teams.services.keep_team import (
    add_member,
    add_team,
    archive_team,
    change_member,
    member_mark,
    move_member,
    rename_member,
    rename_team,
    reopen_team,
    team_mark,
)
from tests import factories as make

NOW = make.NOW
TODAY = dt.date(2026, 11, 18)


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


def test_a_new_team_stands_last_in_its_club_with_the_end_of_its_code(cast):
    make.TeamFactory(club=cast.other_coach.club)
    until = NOW + dt.timedelta(days=7)
    team, pin = add_team(cast.club, cast.coach, "Avocet", now=NOW, code_until=until)
    kept = Team.objects.get(pk=team.pk)
    assert (kept.club, kept.name, kept.order, kept.join_code_expires_at) == (cast.club, "Avocet", 2, until)
    assert check_password(pin, kept.pin_hash)
    assert add_team(cast.club, cast.coach, "Knot", now=NOW)[0].join_code_expires_at is None


def test_the_name_of_another_team_of_the_club_is_taken_until_that_team_ends(cast):
    taken = "name_taken", "Another team of the club has this name; give it another."
    assert refused(ConflictError, lambda: add_team(cast.club, cast.coach, "Plover", now=NOW)) == taken
    assert refused(ConflictError, lambda: rename_team(cast.team_a, cast.coach, "Plover", now=NOW)) == taken
    make.TeamFactory(club=cast.other_coach.club, name="Knot")
    rename_team(cast.team_a, cast.coach, "Knot", now=NOW)
    archive_team(cast.team_b, cast.coach, now=NOW)
    rename_team(cast.team_a, cast.coach, "Plover", now=NOW)
    assert Team.objects.get(pk=cast.team_a.pk).name == "Plover"


def test_a_team_may_be_given_the_name_that_it_has(cast):
    rename_team(cast.team_a, cast.coach, "Curlew", now=NOW)
    assert Team.objects.get(pk=cast.team_a.pk).name == "Curlew"


def test_archiving_ends_what_is_that_teams_and_nothing_of_another(cast):
    robot_b = make.RobotFactory(club=cast.club)
    make.RobotAssignmentFactory(team=cast.team_b, robot=robot_b)
    make.TabletSessionFactory(team=cast.team_a)
    long_ended = make.TabletSessionFactory(team=cast.team_a, ended_at=NOW - dt.timedelta(days=3))
    former = make.RobotAssignmentFactory(team=cast.team_a, to_on=dt.date(2026, 10, 1))
    left = make.MembershipFactory(team=cast.team_a, left_on=dt.date(2026, 10, 1))
    archive_team(cast.team_a, cast.coach, now=NOW)
    cast.team_a.refresh_from_db()
    assert cast.team_a.archived_at == NOW
    ends = TabletSession.objects.filter(team=cast.team_a).exclude(pk=long_ended.pk)
    assert set(ends.values_list("ended_at", flat=True)) == {NOW}
    long_ended.refresh_from_db()
    assert long_ended.ended_at == NOW - dt.timedelta(days=3)
    assert set(TabletSession.objects.filter(team=cast.team_b).values_list("ended_at", flat=True)) == {None}
    assert RobotAssignment.objects.get(robot=cast.robot_a).to_on == TODAY
    assert RobotAssignment.objects.get(robot=robot_b).to_on is None
    former.refresh_from_db()
    left.refresh_from_db()
    assert former.to_on == left.left_on == dt.date(2026, 10, 1)
    assert Membership.objects.get(member=cast.member_a).left_on == TODAY
    assert Membership.objects.get(member=cast.member_b).left_on is None


def test_what_began_later_than_today_ends_on_the_day_it_began(cast):
    tomorrow = TODAY + dt.timedelta(days=1)
    RobotAssignment.objects.update(from_on=tomorrow)
    Membership.objects.update(joined_on=tomorrow)
    archive_team(cast.team_a, cast.coach, now=NOW)
    assert RobotAssignment.objects.get(robot=cast.robot_a).to_on == tomorrow
    assert Membership.objects.get(member=cast.member_a).left_on == tomorrow


def test_a_team_comes_back_unless_one_of_its_own_club_has_the_name_now(cast):
    knot = make.TeamFactory(club=cast.club, name="Knot", archived_at=NOW)
    make.TeamFactory(club=cast.club, name="Knot", archived_at=NOW)
    make.TeamFactory(club=cast.other_coach.club, name="Knot")
    reopen_team(knot, cast.coach, now=NOW)
    assert Team.objects.get(pk=knot.pk).archived_at is None
    gone = make.TeamFactory(club=cast.club, name="Plover", archived_at=NOW)
    assert refused(ConflictError, lambda: reopen_team(gone, cast.coach, now=NOW)) == (
        "name_taken",
        "A newer team has this name; rename that one first.",
    )
    assert Team.objects.get(pk=gone.pk).archived_at == NOW


def test_a_new_member_is_of_the_teams_club_from_today(cast):
    member = add_member(cast.team_a, "Wigeon", cast.coach, now=NOW)
    assert Member.objects.get(pk=member.pk).club == cast.club
    row = Membership.objects.get(member=member)
    assert (row.team, row.joined_on, row.left_on) == (cast.team_a, TODAY, None)


@pytest.mark.parametrize("days", [0, 30])
def test_a_child_that_was_here_before_is_written_down_from_then(cast, days):
    since = TODAY - dt.timedelta(days=days)
    member = add_member(cast.team_a, "Wigeon", cast.coach, here_since=since, now=NOW)
    assert Membership.objects.get(member=member).joined_on == since


def test_nobody_is_here_from_a_day_that_is_still_to_come(cast):
    tomorrow = TODAY + dt.timedelta(days=1)
    assert refused(InputError, lambda: add_member(cast.team_a, "Wigeon", cast.coach, here_since=tomorrow, now=NOW)) == (
        "not_yet",
        "That day is still to come. Choose today or an earlier day.",
    )
    assert not Member.objects.filter(nickname="Wigeon").exists()


def test_a_nickname_is_one_childs_in_its_team_and_free_in_others_and_after_leaving(cast):
    assert refused(ConflictError, lambda: add_member(cast.team_a, "Robin", cast.coach, now=NOW)) == (
        "already_there",
        "Robin is in Curlew already; tell two apart by an initial.",
    )
    add_member(cast.team_b, "Robin", cast.coach, now=NOW)
    move_member(cast.member_a, None, cast.coach, now=NOW)
    add_member(cast.team_a, "Robin", cast.coach, now=NOW)


@pytest.mark.parametrize("rename", [False, True])
def test_what_is_no_nickname_is_refused_and_nothing_is_written(cast, rename):
    members = Member.objects.count()

    def act():
        if rename:
            rename_member(cast.member_a, "robin@example.org", cast.coach, now=NOW)
        else:
            add_member(cast.team_a, "robin@example.org", cast.coach, now=NOW)

    assert refused(InputError, act)[0] == "not_a_nickname"
    assert Member.objects.count() == members and Member.objects.get(pk=cast.member_a.pk).nickname == "Robin"


def test_a_member_is_renamed(cast):
    rename_member(cast.member_a, "Robbie", cast.coach, now=NOW)
    assert Member.objects.get(pk=cast.member_a.pk).nickname == "Robbie"
    assert Member.objects.get(pk=cast.member_b.pk).nickname == "Linnet"


def test_a_change_of_name_and_team_is_both_or_neither(cast):
    elsewhere = make.TeamFactory()
    change = refused(InputError, lambda: change_member(cast.member_a, "Robbie", elsewhere, cast.coach, now=NOW))
    assert change == ("other_club", "This team is not of the child's club.")
    assert Member.objects.get(pk=cast.member_a.pk).nickname == "Robin"
    cast.member_a.refresh_from_db()
    change_member(cast.member_a, "Robbie", cast.team_b, cast.coach, now=NOW)
    assert Member.objects.get(pk=cast.member_a.pk).nickname == "Robbie"
    assert Membership.objects.get(member=cast.member_a, left_on=None).team == cast.team_b


def test_moving_on_and_back_leaves_a_row_for_each_stay(cast):
    move_member(cast.member_a, cast.team_b, cast.coach, now=NOW)
    move_member(cast.member_a, cast.team_a, cast.coach, now=NOW + dt.timedelta(days=1))
    move_member(cast.member_a, cast.team_a, cast.coach, now=NOW + dt.timedelta(days=2))
    stays = Membership.objects.filter(member=cast.member_a).order_by("pk")
    assert [(row.team.name, row.joined_on, row.left_on) for row in stays] == [
        ("Curlew", dt.date(2026, 9, 14), TODAY),
        ("Plover", TODAY, dt.date(2026, 11, 19)),
        ("Curlew", dt.date(2026, 11, 19), None),
    ]


def test_a_child_in_no_team_can_be_told_to_leave_again_and_come_in(cast):
    move_member(cast.member_a, None, cast.coach, now=NOW)
    move_member(cast.member_a, None, cast.coach, now=NOW)
    assert Membership.objects.filter(member=cast.member_a).count() == 1
    move_member(cast.member_a, cast.team_b, cast.coach, now=NOW)
    assert Membership.objects.get(member=cast.member_a, left_on=None).team == cast.team_b


def test_a_members_mark_is_of_its_name_and_its_team_of_today(cast):
    before, other = member_mark(cast.member_a), member_mark(cast.member_b)
    move_member(cast.member_a, cast.team_b, cast.coach, now=NOW)
    moved = member_mark(cast.member_a)
    assert moved != before and member_mark(cast.member_b) == other
    move_member(cast.member_a, cast.team_a, cast.coach, now=NOW)
    assert member_mark(cast.member_a) == before
    move_member(cast.member_a, None, cast.coach, now=NOW)
    assert member_mark(cast.member_a) not in (before, moved)


@pytest.mark.parametrize("verb", ["team", "member"])
def test_the_slower_of_two_hears_whose_change_it_was(cast, verb):
    if verb == "team":
        seen = team_mark(cast.team_a)
        rename_team(cast.team_a, cast.assistant, "Knot", now=NOW)

        def act():
            rename_team(cast.team_a, cast.coach, "Dunlin", seen=seen, now=NOW)
    else:
        seen = member_mark(cast.member_a)
        rename_member(cast.member_a, "Robbie", cast.assistant, now=NOW)
        move_member(cast.member_a, cast.team_b, cast.assistant, now=NOW)
        move_member(cast.member_a, None, cast.assistant, now=NOW)

        def act():
            change_member(cast.member_a, "Rob", None, cast.coach, seen=seen, now=NOW)

    code, words = refused(ConflictError, act)
    assert code == "changed_meanwhile" and words.startswith(f"{cast.assistant} changed this")
