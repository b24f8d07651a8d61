"""Invitations and roles to the row, the letter and the log."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core import mail

from classroom.errors import ConflictError
from classroom.families.share_summary import digest_of
from classroom.models import Coach, Invitation, User
from classroom.people.services.invite_coach import (
    accept_invitation,
    change_role,
    end_role,
    invite_coach,
    open_invitation,
    send_invitation,
    withdraw_invitation,
)
from classroom.people.services.send_link import send_link
from tests import factories as make
from tests.log import noted_by

NOW = make.NOW
SECOND = dt.timedelta(seconds=1)
DUNNOCK = "Dunnock@example.org"


def refused(act):
    with pytest.raises(ConflictError) as raised:
        act()
    return raised.value.code, raised.value.message


@pytest.fixture
def invited(cast):
    return invite_coach(cast.coach, DUNNOCK, "assistant", now=NOW)


def test_an_invitation_is_good_for_a_week_and_kept_by_its_digest(cast, invited):
    invitation, token = invited
    row = Invitation.objects.get(pk=invitation.pk)
    assert (row.club, row.email, row.role, row.invited_by) == (cast.club, DUNNOCK, "assistant", cast.coach)
    assert (row.created_at, row.expires_at) == (NOW, NOW + dt.timedelta(days=7))
    assert row.token_digest == digest_of(token) and len(token) == 43
    assert (row.accepted_at, row.withdrawn_at) == (None, None)


def test_a_new_invitation_withdraws_the_open_one_of_that_address_in_that_club_and_no_other(cast, invited):
    other = invite_coach(cast.coach, "teal@example.org", "assistant", now=NOW)[0]
    theirs = invite_coach(cast.other_coach, DUNNOCK, "assistant", now=NOW)[0]
    used = make_invitation(cast.club, accepted_at=NOW - SECOND)
    withdrawn = make_invitation(cast.club, withdrawn_at=NOW - SECOND)
    again = invite_coach(cast.coach, DUNNOCK.lower(), "observer", now=NOW)[0]
    stand = {row.pk: row.withdrawn_at for row in Invitation.objects.all()}
    assert stand == {
        invited[0].pk: NOW,
        other.pk: None,
        theirs.pk: None,
        used.pk: None,
        withdrawn.pk: NOW - SECOND,
        again.pk: None,
    }


def make_invitation(club, **other):
    return Invitation.objects.create(
        club=club,
        email=DUNNOCK,
        role="assistant",
        token_digest=digest_of(str(other)),
        created_at=NOW - SECOND,
        expires_at=NOW + SECOND,
        **other,
    )


def test_a_coach_of_the_club_is_not_invited_but_one_who_left_or_is_elsewhere_is(cast):
    address = cast.assistant.user.email.upper()
    assert refused(lambda: invite_coach(cast.coach, address, "lead", now=NOW)) == (
        "there_already",
        "This coach is in the club already; change the role in the list.",
    )
    end_role(cast.assistant, cast.coach, now=NOW)
    invite_coach(cast.coach, address, "lead", now=NOW)
    invite_coach(cast.coach, cast.other_coach.user.email, "lead", now=NOW)


def test_the_letter_says_who_invites_to_what_and_until_when(cast, invited):
    assert send_invitation(invited[0], "https://club.example/join/x/") is True
    (letter,) = mail.outbox
    assert (letter.to, letter.subject) == ([DUNNOCK], "Saltmarsh Makers Club invites you as a coach")
    assert letter.body == (
        "Wren invites you to Saltmarsh Makers Club as assistant.\n"
        "This link opens once and until 25 November 2026:\n\n"
        "https://club.example/join/x/\n\n"
        "If you do not know the club, do nothing.\n"
    )


@pytest.mark.parametrize("backend", ["console", "dummy"])
def test_a_link_is_not_sent_where_letters_reach_nobody(settings, backend):
    settings.EMAIL_BACKEND = f"django.core.mail.backends.{backend}.EmailBackend"
    assert send_link("a@example.org", "Subject", "Before", "https://club.example/", "After") is False


def test_a_letter_that_the_server_refuses_is_no_error(settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", 9, 1
    assert send_link("a@example.org", "Subject", "Before", "https://club.example/", "After") is False


@pytest.mark.parametrize(
    ("other", "opens"),
    [
        ({}, True),
        ({"accepted_at": NOW}, False),
        ({"withdrawn_at": NOW}, False),
        ({"expires_at": NOW + SECOND}, True),
        ({"expires_at": NOW}, False),
    ],
)
def test_a_token_opens_an_invitation_that_is_new_and_not_too_old(cast, invited, other, opens):
    invitation, token = invited
    Invitation.objects.filter(pk=invitation.pk).update(**other)
    make_invitation(cast.club)
    assert open_invitation(token, now=NOW) == (invitation if opens else None)
    assert open_invitation("A" * 43, now=NOW) is None


def test_a_newcomer_gets_an_account_of_the_invited_address_in_small_letters(cast, invited):
    other, _ = invite_coach(cast.coach, "teal@example.org", "lead", now=NOW)
    coach = accept_invitation(invited[0], name="Dunnock", password="three boats upriver", now=NOW)
    assert Invitation.objects.get(pk=other.pk).accepted_at is None
    user = User.objects.get(pk=coach.user_id)
    assert (user.username, user.email, user.first_name) == ("dunnock@example.org", "dunnock@example.org", "Dunnock")
    assert user.check_password("three boats upriver")
    assert (coach.club, coach.role, coach.joined_at, coach.left_at) == (cast.club, "assistant", NOW, None)
    assert Invitation.objects.get(pk=invited[0].pk).accepted_at == NOW


def test_an_account_joins_with_its_own_address_in_any_letters(cast, invited):
    user = make.UserFactory(email="DUNNOCK@example.org")
    assert accept_invitation(invited[0], user=user, now=NOW).user == user
    assert User.objects.filter(email__iexact=DUNNOCK).count() == 1


@pytest.mark.parametrize(
    ("case", "code", "words"),
    [
        ("used", "used", "This invitation was used or withdrawn. Ask for a new one."),
        ("withdrawn", "used", "This invitation was used or withdrawn. Ask for a new one."),
        ("account", "sign_in_first", "This address has an account: sign in, then open the link again."),
        ("another", "other_address", "This invitation is for another address. Sign out and open it again."),
    ],
)
def test_an_invitation_that_cannot_be_taken_says_why(cast, invited, case, code, words):
    user = None
    if case == "used":
        Invitation.objects.update(accepted_at=NOW)
    elif case == "withdrawn":
        Invitation.objects.update(withdrawn_at=NOW)
    elif case == "account":
        make.UserFactory(email="dunnock@example.org")
    else:
        user = cast.other_coach.user
    coaches = Coach.objects.count()
    assert refused(lambda: accept_invitation(invited[0], user=user, now=NOW)) == (code, words)
    assert Coach.objects.count() == coaches


LAST = "last_lead", "A club needs a lead coach: make somebody else one first."


@pytest.mark.parametrize("others", ["none", "left", "assistant", "another club"])
def test_the_last_lead_stays_one(cast, others):
    if others == "left":
        make.CoachFactory(club=cast.club, role="lead", left_at=NOW)
    assert refused(lambda: change_role(cast.coach, "assistant", cast.coach, now=NOW)) == LAST
    assert refused(lambda: end_role(cast.coach, cast.coach, now=NOW)) == LAST
    kept = Coach.objects.get(pk=cast.coach.pk)
    assert (kept.role, kept.left_at) == ("lead", None)


def test_with_another_lead_either_may_go_and_who_is_no_lead_may_always(cast):
    change_role(cast.coach, "lead", cast.coach, now=NOW)
    change_role(cast.assistant, "observer", cast.coach, now=NOW)
    end_role(cast.assistant, cast.coach, now=NOW)
    second = make.CoachFactory(club=cast.club, role="lead")
    end_role(cast.coach, second, now=NOW)
    assert Coach.objects.get(pk=cast.coach.pk).left_at == NOW
    assert Coach.objects.get(pk=second.pk).left_at is None
    assert Coach.objects.get(pk=cast.assistant.pk).role == "observer"


ACTS = {
    "an invitation": (
        lambda c: invite_coach(c.coach, "teal@example.org", "lead", now=NOW),
        ["lead invited coach (invitation teal@example.org as lead)"],
    ),
    "an invitation withdrawn": (
        lambda c: withdraw_invitation(make_invitation(c.club), c.coach, now=NOW),
        [f"lead withdrew invitation (invitation {DUNNOCK} as assistant)"],
    ),
    "an invitation withdrawn again": (
        lambda c: withdraw_invitation(make_invitation(c.club, withdrawn_at=NOW), c.coach, now=NOW),
        [],
    ),
    "an invitation withdrawn that was used": (
        lambda c: withdraw_invitation(make_invitation(c.club, accepted_at=NOW), c.coach, now=NOW),
        [],
    ),
    "a newcomer": (
        lambda c: accept_invitation(make_invitation(c.club), name="Dunnock", password="x", now=NOW),
        ["assistant joined as assistant (assistant)"],
    ),
    "another role": (
        lambda c: change_role(c.assistant, "observer", c.coach, now=NOW),
        ["lead changed role (observer)"],
    ),
    "the end of a role": (lambda c: end_role(c.observer, c.coach, now=NOW), ["lead ended role (observer)"]),
}


@pytest.mark.parametrize("what", ACTS)
def test_the_log_says_who_did_what_to_whom(cast, what):
    act, entries = ACTS[what]
    assert noted_by(lambda: act(cast), cast.club, NOW) == entries


def test_withdrawing_is_kept_with_its_moment(cast, invited):
    withdraw_invitation(invited[0], cast.coach, now=NOW)
    withdraw_invitation(invited[0], cast.coach, now=NOW + SECOND)
    assert Invitation.objects.get(pk=invited[0].pk).withdrawn_at == NOW
