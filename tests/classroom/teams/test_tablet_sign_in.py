"""The tablet's door: who comes in, who does not, and that a refusal tells nothing."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import pytest
from django.contrib.auth import hashers
from django.test import Client
from django.utils import timezone

from classroom.errors import InputError
from classroom.models import AuditEntry, SignInFailure, TabletSession
from classroom.site.slow_guessing import TRIES, WINDOW
from classroom.teams.services import tablet_sign_in
from classroom.teams.services.tablet_sign_in import see_tablet, sign_in_tablet, sign_out_tablet
from tests import factories as make
from tests.pages import page_of

pytestmark = pytest.mark.django_db
NOW = make.NOW


def enter(client: Client, code: str, pin: str, **more: Any) -> Any:
    return client.post("/team/", {"code": code, "pin": pin}, **more)


def test_a_team_signs_in_with_code_and_pin_and_stays_signed_in() -> None:
    team = make.TeamFactory(join_code="T34679AC")
    client = Client()
    assert enter(client, "T34679AC", make.PIN).url == "/team/mission/"
    assert client.get("/team/mission/").status_code == 200
    assert client.get("/team/").url == "/team/mission/"
    tablet = TabletSession.objects.get(team=team)
    assert tablet.expires_at - tablet.started_at == dt.timedelta(hours=8)


@pytest.mark.parametrize("typed", ["t34679ac", "T346 79AC", " t346-79ac "])
def test_a_code_may_be_typed_as_it_looks_on_the_card(typed: str) -> None:
    make.TeamFactory(join_code="T34679AC")
    assert enter(Client(), typed, make.PIN).status_code == 302


def test_a_qr_address_brings_the_code_along_and_asks_for_the_pin_only() -> None:
    make.TeamFactory(join_code="T34679AC")
    client = Client()
    page = client.get("/team/T34679AC/")
    assert 'value="T34679AC"' in page_of(page)
    assert client.post("/team/T34679AC/", {"code": "T34679AC", "pin": make.PIN}).url == "/team/mission/"


def refusal(code: str, pin: str) -> tuple[int, str]:
    page = enter(Client(), code, pin)
    return page.status_code, re.sub(r"\b[A-Za-z0-9]{64}\b", "TOKEN", page_of(page).replace(code, "CODE"))


def test_unknown_expired_archived_and_wrong_are_answered_alike() -> None:
    make.TeamFactory(join_code="T34679AC")
    make.TeamFactory(join_code="T34679AD", join_code_expires_at=timezone.now() - dt.timedelta(hours=1))
    make.TeamFactory(join_code="T34679AE", archived_at=NOW)
    wrong = refusal("T34679AC", "000000")
    assert wrong[0] == 200
    assert wrong == refusal("T34679AD", make.PIN) == refusal("T34679AE", make.PIN) == refusal("T34679AX", make.PIN)


def test_a_code_or_pin_that_is_far_too_long_is_answered_in_a_teams_words() -> None:
    page = page_of(enter(Client(), "T34679AC" * 9, "0" * 40))
    assert "Type the eight letters and numbers of your team&#x27;s card." in page
    assert "Type the six numbers of your team&#x27;s PIN." in page


def test_every_refusal_costs_exactly_one_hash(monkeypatch: pytest.MonkeyPatch) -> None:
    """So that the time taken does not tell an unknown code from a wrong PIN."""
    make.TeamFactory(join_code="T34679AC")
    checked: list[str] = []
    monkeypatch.setattr(
        tablet_sign_in, "check_password", lambda pin, kept: checked.append(kept) or hashers.check_password(pin, kept)
    )
    for code in ("T34679AC", "T34679AX"):
        with pytest.raises(InputError):
            sign_in_tablet(code, "000000", source="10.0.0.1", now=NOW)
    assert len(checked) == 2
    assert hashers.identify_hasher(checked[0]).algorithm == hashers.identify_hasher(checked[1]).algorithm


def test_guessing_is_held_back_by_its_source_and_the_team_is_not_locked_out() -> None:
    make.TeamFactory(join_code="T34679AC")
    for n in range(TRIES):
        with pytest.raises(InputError, match="do not open"):
            sign_in_tablet("T34679AC", f"{n:06d}", source="10.0.0.66", now=NOW)
    with pytest.raises(InputError) as held:
        sign_in_tablet("T34679AC", make.PIN, source="10.0.0.66", now=NOW)
    assert held.value.code == "too_many_tries"
    assert sign_in_tablet("T34679AC", make.PIN, source="10.0.0.7", now=NOW)
    assert sign_in_tablet("T34679AC", make.PIN, source="10.0.0.66", now=NOW + WINDOW + dt.timedelta(seconds=1))


def test_a_house_of_ipv6_addresses_is_one_source() -> None:
    make.TeamFactory(join_code="T34679AC")
    for n in range(TRIES):
        with pytest.raises(InputError):
            sign_in_tablet("T34679AC", "000000", source=f"2001:db8::{n:x}", now=NOW)
    with pytest.raises(InputError) as held:
        sign_in_tablet("T34679AC", make.PIN, source="2001:db8::ffff", now=NOW)
    assert held.value.code == "too_many_tries"


def test_the_page_says_429_when_it_holds_back() -> None:
    SignInFailure.objects.bulk_create(
        SignInFailure(source="127.0.0.1", kind="team", at=timezone.now()) for _ in range(TRIES)
    )
    page = enter(Client(), "T34679AC", make.PIN)
    assert page.status_code == 429
    assert "Wait ten minutes" in page_of(page)


def test_a_forged_forwarding_header_is_no_other_source(settings: Any) -> None:
    enter(Client(), "T34679AC", "0", headers={"X-Forwarded-For": "9.9.9.9"})
    settings.HELMROOM_PROXIES = 1
    enter(Client(), "T34679AC", "0", headers={"X-Forwarded-For": "6.6.6.6, 9.9.9.9"})
    assert set(SignInFailure.objects.values_list("source", flat=True)) == {"127.0.0.1", "9.9.9.9"}


def test_signing_in_gives_a_new_session_key_and_takes_a_coachs_rights_off_the_tablet(cast: Any) -> None:
    client = cast.as_coach
    before = client.session.session_key
    enter(client, cast.team_a.join_code, make.PIN)
    assert client.session.session_key != before
    assert client.get("/team/mission/").status_code == 200
    assert client.get("/open-tablet/").status_code == 404


def test_a_coach_opens_a_tablet_without_code_and_pin_and_it_is_noted(cast: Any) -> None:
    client = cast.as_assistant
    assert client.post("/open-tablet/", {"team": cast.team_a.pk}).url == "/team/mission/"
    assert client.get("/team/mission/").status_code == 200
    assert AuditEntry.objects.filter(club=cast.club, verb="opened tablet").count() == 1


def test_a_coach_opens_no_tablet_of_another_club(cast: Any) -> None:
    assert cast.as_other_coach.post("/open-tablet/", {"team": cast.team_a.pk}).status_code == 404
    assert cast.as_coach.post("/open-tablet/", {"team": "1 OR 1=1"}).status_code == 404


def test_an_ended_or_expired_tablet_is_sent_back_to_the_door(cast: Any) -> None:
    tablet = TabletSession.objects.get(team=cast.team_a)
    tablet.ended_at = timezone.now()
    tablet.save()
    assert cast.as_team_a.get("/team/log/").url == "/team/"
    TabletSession.objects.filter(team=cast.team_b).update(expires_at=timezone.now() - dt.timedelta(seconds=1))
    assert cast.as_team_b.get("/team/mission/").url == "/team/"


def test_signing_out_asks_first_and_then_ends_the_session(cast: Any) -> None:
    assert "stays saved" in page_of(cast.as_team_a.get("/team/leave/"))
    assert TabletSession.objects.get(team=cast.team_a).ended_at is None
    assert cast.as_team_a.post("/team/leave/").url == "/team/"
    assert TabletSession.objects.get(team=cast.team_a).ended_at is not None
    assert cast.as_team_a.get("/team/mission/").url == "/team/"


def test_signing_in_needs_its_csrf_token() -> None:
    assert enter(Client(enforce_csrf_checks=True), "T34679AC", make.PIN).status_code == 403


@pytest.mark.parametrize(
    ("source", "kept"),
    [
        ("10.0.0.66", "10.0.0.66"),
        ("10.0.0.66:51034", "10.0.0.66"),
        ("::ffff:10.0.0.66", "10.0.0.66"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1::/56"),
        ("[2001:db8:1:3::1]:443", "2001:db8:1::/56"),
        ("2001:db8:1:100::1", "2001:db8:1:100::/56"),
        ("no address", "no address"),
        ("x" * 70, "x" * 64),
    ],
)
def test_a_refusal_is_kept_by_the_network_that_it_came_from(source: str, kept: str) -> None:
    with pytest.raises(InputError):
        sign_in_tablet("T34679AC", "000000", source=source, now=NOW)
    assert [(row.source, row.kind, row.at) for row in SignInFailure.objects.all()] == [(kept, "team", NOW)]


def test_refusals_count_for_ten_minutes_for_their_own_source_and_door_and_coming_in_takes_none() -> None:
    make.TeamFactory(join_code="T34679AC")
    just_in = NOW - WINDOW + dt.timedelta(seconds=1)
    SignInFailure.objects.bulk_create(SignInFailure(source="10.0.0.66", kind="team", at=just_in) for _ in range(19))
    for source, kind, at in [
        ("10.0.0.66", "team", NOW - WINDOW),
        ("10.0.0.66", "other", NOW),
        ("10.0.0.7", "team", NOW),
    ]:
        SignInFailure.objects.create(source=source, kind=kind, at=at)
    for _ in range(3):
        assert sign_in_tablet("T34679AC", f" {make.PIN} ", source="10.0.0.66", now=NOW)
    assert SignInFailure.objects.count() == 22
    SignInFailure.objects.create(source="10.0.0.66", kind="team", at=just_in)
    with pytest.raises(InputError) as held:
        sign_in_tablet("T34679AC", make.PIN, source="10.0.0.66", now=NOW)
    assert (TRIES, WINDOW, held.value.code) == (20, dt.timedelta(minutes=10), "too_many_tries")
    assert held.value.message == (
        "Too many tries from here. Wait ten minutes, or ask your coach to open this tablet for you."
    )


def test_whatever_was_wrong_the_answer_is_one_sentence() -> None:
    make.TeamFactory(join_code="T34679AC", join_code_expires_at=NOW)
    for code, pin in [("T34679AC", make.PIN), ("T34679AC", "000000"), ("T34679AX", make.PIN)]:
        with pytest.raises(InputError) as refused:
            sign_in_tablet(code, pin, source="10.0.0.1", now=NOW)
        assert (refused.value.code, refused.value.message) == (
            "not_let_in",
            "That code and PIN do not open a team. Check both on your card and type them again, "
            "or ask your coach to open this tablet for you.",
        )


def test_a_code_is_read_by_its_first_eight_symbols() -> None:
    team = make.TeamFactory(join_code="T34679AC")
    tablet = sign_in_tablet("T346 79AC 99", make.PIN, source="10.0.0.1", now=NOW)
    assert (tablet.team, tablet.started_at, tablet.last_seen_at) == (team, NOW, NOW)
    assert tablet.expires_at == NOW + dt.timedelta(hours=8)


def test_a_tablet_is_seen_once_a_minute_at_most(cast: Any) -> None:
    tablet, other = make.TabletSessionFactory(team=cast.team_a), make.TabletSessionFactory(team=cast.team_a)
    minute = dt.timedelta(minutes=1)
    for later, seen in [(minute, NOW), (minute * 2, NOW + minute * 2)]:
        see_tablet(tablet, now=NOW + later)
        assert TabletSession.objects.get(pk=tablet.pk).last_seen_at == seen
    assert TabletSession.objects.get(pk=other.pk).last_seen_at == NOW


def test_signing_out_ends_this_tablet_once(cast: Any) -> None:
    tablet, other = make.TabletSessionFactory(team=cast.team_a), make.TabletSessionFactory(team=cast.team_a)
    sign_out_tablet(tablet, now=NOW)
    sign_out_tablet(tablet, now=NOW + dt.timedelta(minutes=5))
    assert TabletSession.objects.get(pk=tablet.pk).ended_at == NOW
    assert TabletSession.objects.get(pk=other.pk).ended_at is None
