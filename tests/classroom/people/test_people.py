"""Coaches: roles, invitations, sign-in with a second step, two clubs, the log."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import time_machine
from django.contrib.auth import get_user_model
from django.core import mail
from django.test import Client, RequestFactory
from django.urls import reverse

from classroom.club.services.save_club import club_mark
from classroom.errors import ConflictError
from classroom.models import AuditEntry, Club, Coach, Invitation
from classroom.people.known_browser import known_browser
from classroom.people.services.invite_coach import (
    accept_invitation,
    change_role,
    end_role,
    invite_coach,
    open_invitation,
    withdraw_invitation,
)
from tests import factories as make
from tests.conftest import signed_in_coach
from tests.pages import page_of

NOW = make.NOW
User = get_user_model()
NEW = {"name": "Dunnock", "password": "three boats upriver"}


@pytest.fixture
def at_now():
    with time_machine.travel(NOW, tick=False):
        yield


def invited(cast, email="dunnock@example.org", role="assistant"):
    return invite_coach(cast.coach, email, role, now=NOW)


def join(token):
    return reverse("join", args=[token])


# Invitations


def test_an_invitation_keeps_its_digest_only_and_is_mailed_as_a_link(cast, at_now):
    answer = cast.as_coach.post(reverse("coaches"), {"email": "dunnock@example.org", "role": "observer"})
    token = re.search(r"/join/([A-Za-z0-9_-]{43})/", page_of(answer))[1]
    row = Invitation.objects.values().get()
    assert token not in str(row) and "no-store" in answer["Cache-Control"]
    assert token in mail.outbox[0].body and mail.outbox[0].to == ["dunnock@example.org"]
    assert token not in page_of(cast.as_coach.get(reverse("coaches")))


def test_a_laptop_without_a_mail_server_says_so_and_prints_no_link(cast, settings, capsys):
    settings.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
    answer = cast.as_coach.post(reverse("coaches"), {"email": "dunnock@example.org", "role": "observer"})
    assert "give them the link yourself" in page_of(answer)
    assert "/join/" not in capsys.readouterr().out


def test_a_new_coach_joins_with_a_name_and_a_password_once(cast, at_now):
    _, token = invited(cast)
    newcomer = Client()
    assert "Saltmarsh Makers Club" in page_of(newcomer.get(join(token)))
    assert newcomer.post(join(token), NEW).status_code == 302
    coach = Coach.objects.get(user__email="dunnock@example.org")
    assert (coach.club, coach.role) == (cast.club, "assistant")
    assert newcomer.get(reverse("teams")).status_code == 200
    assert Client().post(join(token), NEW).status_code == 404


@pytest.mark.parametrize("password", ["short", "password123", "dunnock@example.org", "1234567890123"])
def test_a_common_short_or_guessable_password_is_refused(cast, at_now, password):
    """OWASP ASVS 5.0.0, 6.2."""
    _, token = invited(cast)
    answer = Client().post(join(token), NEW | {"password": password})
    assert answer.status_code == 200 and not User.objects.filter(email="dunnock@example.org").exists()


def test_extra_fields_make_nobody_a_lead_or_staff(cast, at_now):
    _, token = invited(cast, role="observer")
    Client().post(join(token), NEW | {"role": "lead", "is_staff": "1", "is_superuser": "1", "email": "x@example.org"})
    coach = Coach.objects.get(user__email="dunnock@example.org")
    assert coach.role == "observer" and not coach.user.is_staff and not coach.user.is_superuser


def test_unknown_used_withdrawn_and_old_invitations_answer_alike(cast, at_now):
    used, used_token = invited(cast, "a@example.org")
    accept_invitation(used, now=NOW, **NEW)
    withdrawn, withdrawn_token = invited(cast, "b@example.org")
    withdraw_invitation(withdrawn, cast.coach, now=NOW)
    _, old = invite_coach(cast.coach, "c@example.org", "lead", now=NOW - dt.timedelta(days=8))
    answers = [Client().get(join(token)) for token in ("A" * 43, used_token, withdrawn_token, old)]
    assert [a.status_code for a in answers] == [404] * 4
    assert len({re.sub(r'X-CSRFToken": "[^"]+', "", page_of(a)) for a in answers}) == 1


def test_inviting_again_ends_the_former_link(cast):
    _, first = invited(cast)
    _, second = invited(cast)
    assert open_invitation(first, now=NOW) is None and open_invitation(second, now=NOW) is not None


def test_a_coach_of_another_club_joins_with_the_same_account(cast, at_now):
    _, token = invited(cast, cast.other_coach.user.email, "observer")
    assert "has an account already" in page_of(Client().get(join(token)))
    assert Client().post(join(token), NEW).status_code == 200
    assert cast.as_other_coach.post(join(token)).status_code == 302
    roles = Coach.objects.filter(user=cast.other_coach.user)
    assert {(role.club, role.role) for role in roles} == {
        (cast.other_coach.club, "lead"),
        (cast.club, "observer"),
    }


def test_an_invitation_is_no_ones_but_its_address(cast, at_now):
    invitation, token = invited(cast)
    answer = cast.as_other_coach.post(join(token))
    assert "another address" in page_of(answer)
    assert not Coach.objects.filter(user=cast.other_coach.user, club=cast.club).exists()
    invitation.refresh_from_db()
    assert invitation.accepted_at is None


def test_a_role_that_ended_starts_again_by_a_new_invitation(cast):
    end_role(cast.observer, cast.coach, now=NOW)
    invitation, _ = invited(cast, cast.observer.user.email, "assistant")
    coach = accept_invitation(invitation, user=cast.observer.user, now=NOW)
    assert coach.pk == cast.observer.pk and coach.left_at is None and coach.role == "assistant"


# Roles


def test_a_club_always_keeps_a_lead_coach(cast):
    for action in (
        lambda: change_role(cast.coach, "assistant", cast.coach, now=NOW),
        lambda: end_role(cast.coach, cast.coach, now=NOW),
    ):
        with pytest.raises(ConflictError):
            action()
    change_role(cast.assistant, "lead", cast.coach, now=NOW)
    change_role(cast.coach, "observer", cast.assistant, now=NOW)
    assert Coach.objects.get(pk=cast.coach.pk).role == "observer"


def test_an_ended_role_sees_nothing_from_the_next_request_on(cast):
    assert cast.as_assistant.get(reverse("teams")).status_code == 200
    end_role(cast.assistant, cast.coach, now=NOW)
    assert cast.as_assistant.get(reverse("teams")).status_code == 404


def test_only_a_lead_changes_settings_and_fields_of_no_form_are_ignored(cast):
    data = {"name": "Estuary", "unit": "in", "time_zone": "Europe/Oslo", "retention_days": "500", "is_demo": "on"}
    assert cast.as_assistant.post(reverse("club_settings"), data).status_code == 403
    data |= {"live_version": "9999", "seen": club_mark(cast.club)}
    assert cast.as_coach.post(reverse("club_settings"), data).status_code == 302
    club = Club.objects.get(pk=cast.club.pk)
    assert (club.name, club.unit, club.time_zone, club.retention_days) == ("Estuary", "in", "Europe/Oslo", 500)
    assert not club.is_demo and club.live_version < 100


@pytest.mark.parametrize(
    "bad",
    [{"name": " "}, {"unit": "ell"}, {"time_zone": "Mars/Base"}, {"retention_days": "3"}, {"retention_days": "1e9"}],
)
def test_settings_that_make_no_sense_are_refused_with_what_was_typed(cast, bad):
    data = {"name": "Estuary", "unit": "in", "time_zone": "Europe/Oslo", "retention_days": "500"} | bad
    answer = cast.as_coach.post(reverse("club_settings"), data)
    assert answer.status_code == 200 and answer.context["form"].errors
    assert Club.objects.get(pk=cast.club.pk).name == "Saltmarsh Makers Club"


def test_a_coach_of_two_clubs_switches_and_never_sees_both(cast):
    other = make.CoachFactory(user=cast.coach.user, role="observer", club__name="Harbour Club")
    make.TeamFactory(club=other.club, name="Sanderling")
    client = signed_in_coach(cast.coach)
    client.post(reverse("club_switch", args=[cast.coach.pk]))
    page = page_of(client.get(reverse("teams")))
    assert "Curlew" in page and "Sanderling" not in page
    client.post(reverse("club_switch", args=[other.pk]))
    page = page_of(client.get(reverse("teams")))
    assert "Sanderling" in page and "Curlew" not in page
    assert client.get(reverse("team", args=[cast.team_a.pk])).status_code == 404
    assert client.get(reverse("team_new")).status_code == 403


def test_the_log_names_people_of_the_club_and_nobody_elses(cast):
    theirs = make.TeamFactory(club=cast.other_coach.club, name="Sanderling")
    make_entry = AuditEntry.objects.create
    make_entry(
        club=cast.club, at=NOW, actor=f"coach:{cast.coach.pk}", verb="renamed team", subject=f"team:{cast.team_a.pk}"
    )
    make_entry(club=cast.club, at=NOW, actor="system", verb="renamed team", subject=f"team:{theirs.pk}")
    make_entry(club=cast.other_coach.club, at=NOW, actor="system", verb="zebra", subject="")
    page = page_of(cast.as_coach.get(reverse("audit_log")))
    assert "Renamed team: team Curlew" in page and "Sanderling" not in page and "ebra" not in page


def test_an_audit_entry_is_never_changed(cast):
    entry = AuditEntry.objects.create(club=cast.club, at=NOW, actor="system", verb="x")
    entry.verb = "y"
    with pytest.raises(TypeError):
        entry.save()


# Sign-in (guard, security 5 and 6)


@pytest.fixture
def coach_account(cast):
    return {"login": cast.coach.user.email, "password": make.PASSWORD}


def sign_in(client, account):
    return client.post(reverse("account_login"), account)


def test_a_coach_signs_in_with_a_new_session_key(cast, coach_account):
    client = Client()
    session = client.session
    session["planted"] = True
    session.save()
    before = session.session_key
    assert sign_in(client, coach_account).status_code == 302
    assert client.session.session_key != before
    assert client.get(reverse("teams")).status_code == 200


def test_an_unknown_address_and_a_wrong_password_answer_alike(cast, coach_account):
    def refused(account):
        page = page_of(sign_in(Client(), account))
        return re.search(r'role="alert".*?</div>', page, re.DOTALL)[0]

    wrong = refused(coach_account | {"password": "not this one"})
    unknown = refused({"login": "nobody@example.org", "password": "not this one"})
    assert wrong == unknown and "do not open the door" in wrong


def test_guessing_is_slowed(cast, coach_account):
    client = Client()
    for _ in range(6):
        sign_in(client, coach_account | {"password": "not this one"})
    assert "Too many tries" in page_of(sign_in(client, coach_account))


def elsewhere(n):
    return Client(REMOTE_ADDR=f"10.0.0.{n}")


def test_others_guesses_slow_an_account_but_not_in_a_browser_that_it_came_in_with_before(cast, coach_account):
    own = elsewhere(1)
    assert sign_in(own, coach_account).status_code == 302
    own.post(reverse("account_logout"))
    for n in range(2, 9):
        sign_in(elsewhere(n), coach_account | {"password": "not this one"})
    stranger = page_of(sign_in(elsewhere(9), coach_account))
    assert "Too many tries" in stranger and "signed in with before" in stranger
    assert sign_in(own, coach_account).status_code == 302


def test_a_known_browser_has_tries_of_its_own_and_no_more(cast, coach_account):
    own = elsewhere(1)
    sign_in(own, coach_account)
    own.post(reverse("account_logout"))
    for _ in range(6):
        sign_in(own, coach_account | {"password": "not this one"})
    assert "Too many tries" in page_of(sign_in(own, coach_account))


def test_a_cookie_that_is_made_up_or_of_another_account_makes_no_browser_known(cast, coach_account):
    own = elsewhere(1)
    sign_in(own, coach_account)
    name, cookie = next((name, cookie.value) for name, cookie in own.cookies.items() if name.startswith("known_"))
    assert coach_account["login"].split("@")[0] not in name + cookie
    request = RequestFactory().get("/")
    for cookies in ({}, {name: "made up"}, {name: cookie[:-1]}, {f"{name}x": cookie}):
        request.COOKIES = cookies
        assert known_browser(request, coach_account["login"]) == ""
    request.COOKIES = {name: cookie}
    assert known_browser(request, coach_account["login"].upper()) != ""
    assert known_browser(request, "other@example.org") == ""


def test_guessing_behind_a_proxy_shuts_out_nobody_elsewhere(cast, coach_account, settings):
    settings.HELMROOM_PROXIES = 1
    for n in range(11):
        guess = {"login": f"guess{n}@example.org", "password": "not this one"}
        Client(headers={"X-Forwarded-For": f"6.6.6.{n}, 203.0.113.9"}).post(reverse("account_login"), guess)
    held_back = sign_in(Client(headers={"X-Forwarded-For": "203.0.113.9"}), coach_account)
    assert "Too many tries" in page_of(held_back)
    assert sign_in(Client(headers={"X-Forwarded-For": "203.0.113.10"}), coach_account).status_code == 302


def test_a_mail_leads_to_the_configured_address_whatever_name_was_asked_for(cast, coach_account, settings):
    settings.ALLOWED_HOSTS = ["*"]
    settings.HELMROOM_ADDRESS = "https://club.example/"
    Client().post(reverse("account_reset_password"), {"email": cast.coach.user.email}, headers={"host": "evil.example"})
    assert "evil.example" not in mail.outbox[0].body
    assert "https://club.example/account/password/reset/key/" in mail.outbox[0].body


@pytest.mark.parametrize("key", ["1-made-up", "1-set-password", f"{'z' * 8}-0", "1-" + "x" * 500])
def test_a_made_up_password_key_writes_no_row(db, key, django_assert_num_queries):
    from django.contrib.sessions.models import Session

    Client().get(f"/account/password/reset/key/{key}/")
    assert Session.objects.count() == 0


def test_nobody_signs_up_by_themselves(db):
    answer = Client().post(reverse("account_signup"), {"email": "x@example.org", "password1": "three boats upriver"})
    assert "No signing up" in page_of(answer) and not User.objects.exists()


def test_a_forgotten_password_is_set_by_a_mailed_link_once_and_ends_nothing_for_unknown_addresses(cast, coach_account):
    for email in (cast.coach.user.email, "nobody@example.org"):
        Client().post(reverse("account_reset_password"), {"email": email})
    link = re.search(r"http://\S+", mail.outbox[0].body)[0]
    client = Client()
    page = client.get(link, follow=True)
    url = page.redirect_chain[-1][0]
    new = "an otter in the reeds"
    client.post(url, {"password1": new, "password2": new})
    assert sign_in(Client(), coach_account).status_code == 200
    assert sign_in(Client(), coach_account | {"password": new}).status_code == 302
    assert "does not open any more" in page_of(Client().get(link, follow=True))
    assert "no account here" in mail.outbox[1].body


def test_the_second_step_is_switched_on_asked_for_and_let_in_by_a_spare_code(cast, coach_account, code_of):
    client = Client()
    sign_in(client, coach_account)
    page = client.get(reverse("mfa_activate_totp"))
    if page.status_code == 302:
        client.post(page.url, {"password": make.PASSWORD})
        page = client.get(reverse("mfa_activate_totp"))
    secret = page.context["form"].secret
    assert "data:image" not in page_of(page) and "<svg" in page_of(page)
    client.post(reverse("mfa_activate_totp"), {"code": code_of(secret)})
    codes = client.get(reverse("mfa_view_recovery_codes")).context["unused_codes"]

    again = Client()
    assert sign_in(again, coach_account).url == reverse("mfa_authenticate")
    assert again.get(reverse("teams")).status_code == 302
    assert again.post(reverse("mfa_authenticate"), {"code": "000000"}).status_code == 200
    assert again.post(reverse("mfa_authenticate"), {"code": codes[0]}).status_code == 302
    assert again.get(reverse("teams")).status_code == 200

    third = Client()
    sign_in(third, coach_account)
    assert third.post(reverse("mfa_authenticate"), {"code": codes[0]}).status_code == 200  # each once


@pytest.mark.parametrize(
    "name",
    ["account_login", "account_signup", "account_reset_password", "account_reset_password_done", "account_inactive"]
    + ["account_reset_password_from_key_done"],
)
def test_pages_for_nobody_are_in_our_words_and_look(db, name):
    page = page_of(Client().get(reverse(name)))
    assert "helmroom.css" in page and "Menu:" not in page and "style=" not in page and "<script>" not in page


@pytest.mark.parametrize(
    "name",
    ["account_logout", "account_change_password", "account_reauthenticate", "mfa_index", "club_settings", "coaches"],
)
def test_pages_of_ones_account_are_in_our_words_and_look(cast, name):
    page = page_of(cast.as_coach.get(reverse(name)))
    assert "helmroom.css" in page and "Menu:" not in page and "style=" not in page and "<script>" not in page
