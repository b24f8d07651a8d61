"""Who is asking, and which rows there are for them: each door tried with its own row, another club's and none."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest
import time_machine
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest

from classroom import access
from classroom.access import SignInNeeded, TeamSeat
from classroom.models import Coach, GuardianContact, Invitation, ServiceNote, Spare, TabletSession
from tests import factories as make

NOW = make.NOW
SECOND = dt.timedelta(seconds=1)


@pytest.fixture(autouse=True)
def at_now():
    with time_machine.travel(NOW, tick=False):
        yield


def request(user=None, **session):
    made = HttpRequest()
    made.user, made.session = user or AnonymousUser(), session
    return made


def by_tablet(cast, **more):
    return request(tablet_session=make.TabletSessionFactory(team=cast.team_a, **more).pk)


def by_family(cast):
    return request(summary_link=cast.link_a.pk)


# Coaches


def test_a_coach_is_the_user_in_the_club_that_was_chosen_else_the_first(cast):
    second = make.CoachFactory(user=cast.coach.user, club__name="Tern Club")
    asked = lambda **session: access.coach_or_none(request(cast.coach.user, **session))  # noqa: E731
    assert asked() == cast.coach
    assert asked(club=second.club_id) == second
    assert asked(club=cast.other_coach.club_id) == cast.coach
    Coach.objects.filter(pk=cast.coach.pk).update(left_at=NOW)
    assert asked() == second and asked(club=cast.club.pk) == second
    Coach.objects.filter(pk=second.pk).update(left_at=NOW)
    assert asked() is None
    assert access.coach_or_none(request()) is None


def test_who_asks_is_looked_up_once_a_request(cast, django_assert_num_queries):
    for made, ask in [
        (request(cast.coach.user), access.require_coach),
        (by_tablet(cast), access.require_team),
        (by_family(cast), access.require_family),
    ]:
        with django_assert_num_queries(1):
            first = ask(made)
            assert ask(made) == first
            assert access.current_club(made) == cast.club


@pytest.mark.parametrize(
    ("role", "to_change", "to_lead", "refusal"),
    [
        ("lead", True, True, None),
        ("assistant", True, False, None),
        ("assistant", False, True, "Only a lead coach can do this. Ask one of them."),
        ("observer", False, False, None),
        ("observer", True, False, "An observer looks and changes nothing. Ask a coach to do this."),
        ("observer", False, True, "Only a lead coach can do this. Ask one of them."),
    ],
)
def test_a_role_may_look_change_or_lead(cast, role, to_change, to_lead, refusal):
    coach = make.CoachFactory(role=role)
    made = request(coach.user)
    if refusal is None:
        assert access.require_coach(made, to_change=to_change, to_lead=to_lead) == coach
    else:
        with pytest.raises(PermissionDenied) as raised:
            access.require_coach(made, to_change=to_change, to_lead=to_lead)
        assert str(raised.value) == refusal


def test_without_saying_so_any_role_will_do(cast):
    assert access.require_coach(request(cast.observer.user)) == cast.observer


@pytest.mark.parametrize(
    ("who", "coach", "team", "family"),
    [
        ("nobody", SignInNeeded, SignInNeeded, Http404),
        ("coach", None, Http404, Http404),
        ("stranger", Http404, SignInNeeded, Http404),
        ("tablet", Http404, None, Http404),
        ("family", Http404, Http404, None),
    ],
)
def test_who_has_another_key_finds_nothing_and_who_has_none_is_sent_to_the_door(cast, who, coach, team, family):
    made = {
        "nobody": request,
        "coach": lambda: request(cast.coach.user),
        "stranger": lambda: request(make.UserFactory()),
        "tablet": lambda: by_tablet(cast),
        "family": lambda: by_family(cast),
    }[who]
    doors = (access.require_coach, access.require_team, access.require_family)
    for door, outcome in zip(doors, (coach, team, family), strict=True):
        if outcome is None:
            assert door(made()) is not None
        else:
            with pytest.raises(outcome):
                door(made())


def test_the_club_of_a_request_is_that_of_whoever_asks(cast):
    assert access.current_club(request()) is None
    assert access.current_club(request(cast.other_coach.user)) == cast.other_coach.club
    assert access.current_club(by_tablet(cast)) == cast.club
    assert access.current_club(by_family(cast)) == cast.club


# Teams and families


@pytest.mark.parametrize(
    ("more", "opens"),
    [
        ({}, True),
        ({"ended_at": NOW}, False),
        ({"expires_at": NOW + SECOND}, True),
        ({"expires_at": NOW}, False),
        ({"archived": True}, False),
    ],
)
def test_a_tablet_is_its_teams_until_it_ends(cast, more, opens):
    if more.pop("archived", False):
        cast.team_a.archived_at = NOW
        cast.team_a.save()
    made = by_tablet(cast, **more)
    seat = access.team_or_none(made)
    assert (seat is not None) is opens
    if seat is not None:
        assert (seat.team, seat.club, seat.tablet.pk) == (cast.team_a, cast.club, made.session["tablet_session"])
        assert access.require_team(made) == seat


def test_without_a_key_there_is_no_team_and_with_anothers_there_is_its_own(cast):
    make.TabletSessionFactory(team=cast.team_a)
    assert access.team_or_none(request()) is None
    assert access.team_or_none(request(tablet_session=0)) is None
    theirs = make.TabletSessionFactory(team=cast.team_b)
    assert access.team_or_none(request(tablet_session=theirs.pk)).team == cast.team_b


@pytest.mark.parametrize(
    ("more", "opens"),
    [({}, True), ({"revoked_at": NOW}, False), ({"expires_at": NOW + SECOND}, True), ({"expires_at": NOW}, False)],
)
def test_a_link_is_its_familys_until_it_ends(cast, more, opens):
    made = NOW - dt.timedelta(days=1)
    link = make.SummaryLinkFactory(member=cast.member_a, created_at=made, **more)
    if opens:
        assert access.require_family(request(summary_link=link.pk)) == link
    else:
        with pytest.raises(Http404):
            access.require_family(request(summary_link=link.pk))


# Rows


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("7", 7),
        ("0", 0),
        ("9" * 17, 10**17 - 1),
        ("9" * 18, 0),
        ("", 0),
        (None, 0),
        ("-7", 0),
        ("7.0", 0),
        (" 7", 0),
        ("seven", 0),
        ("٧", 0),
        ("²", 0),
    ],
)
def test_a_rows_number_is_read_from_a_form_and_nought_is_none(text, key):
    assert access.as_key(text) == key


def rows_of(club):
    """One row of each kind, in a club."""
    member = make.MemberFactory(club=club)
    robot = make.RobotFactory(club=club)
    term = make.TermFactory(club=club)
    return SimpleNamespace(
        team=make.TeamFactory(club=club),
        member=member,
        robot=robot,
        calibration=make.CalibrationFactory(robot=robot),
        coach=make.CoachFactory(club=club),
        invitation=Invitation.objects.create(
            club=club, email="a@example.org", role="lead", token_digest=f"{club.pk:064}", created_at=NOW, expires_at=NOW
        ),
        service_note=ServiceNote.objects.create(robot=robot, kind="part", text="Tyre", on=NOW.date()),
        spare=Spare.objects.create(club=club, name="Tyre"),
        term=term,
        session=make.SessionFactory(term=term),
        contact=GuardianContact.objects.create(member=member),
        link=make.SummaryLinkFactory(member=member),
    )


DOORS = (
    "team", "member", "robot", "calibration", "coach", "invitation", "service_note", "spare", "term", "session", "contact",
    "link",
)  # fmt: skip


@pytest.mark.parametrize("kind", DOORS)
def test_a_row_is_there_for_its_own_club_and_for_no_other(cast, kind):
    door = getattr(access, f"get_{kind}")
    ours, theirs = (getattr(rows_of(club), kind) for club in (cast.club, cast.other_coach.club))
    assert door(cast.coach, ours.pk) == ours and door(cast.other_coach, theirs.pk) == theirs
    for asker, row in [(cast.coach, theirs.pk), (cast.other_coach, ours.pk), (cast.coach, 0)]:
        with pytest.raises(Http404):
            door(asker, row)


def test_who_has_left_and_what_is_off_the_list_is_not_there(cast):
    rows = rows_of(cast.club)
    Coach.objects.filter(pk=rows.coach.pk).update(left_at=NOW)
    Spare.objects.filter(pk=rows.spare.pk).update(retired_at=NOW)
    for door, row in [(access.get_coach, rows.coach), (access.get_spare, rows.spare)]:
        with pytest.raises(Http404):
            door(cast.coach, row.pk)


def test_a_role_in_another_club_is_ones_own_until_it_ends(cast):
    second = make.CoachFactory(user=cast.coach.user)
    assert access.get_own_role(cast.coach, second.pk) == second
    assert access.get_own_role(cast.coach, cast.coach.pk) == cast.coach
    with pytest.raises(Http404):
        access.get_own_role(cast.coach, cast.assistant.pk)
    Coach.objects.filter(pk=second.pk).update(left_at=NOW)
    with pytest.raises(Http404):
        access.get_own_role(cast.coach, second.pk)


def test_a_seat_is_of_its_teams_club(cast):
    tablet = make.TabletSessionFactory(team=cast.team_a)
    assert TeamSeat(cast.team_a, tablet).club == cast.club


def test_what_else_a_browser_was_let_in_for_ends_once(cast):
    ended = make.TabletSessionFactory(team=cast.team_a, ended_at=NOW - SECOND)
    going, other = (make.TabletSessionFactory(team=cast.team_a) for _ in range(2))
    for tablet in (ended, going):
        asked = request(cast.coach.user, tablet_session=tablet.pk, summary_link=cast.link_a.pk, club=cast.club.pk)
        access.end_other_visits(asked)
        assert asked.session == {"club": cast.club.pk}
    ends = dict(TabletSession.objects.values_list("pk", "ended_at"))
    assert (ends[ended.pk], ends[going.pk], ends[other.pk]) == (NOW - SECOND, NOW, None)
    access.end_other_visits(request(cast.coach.user))
