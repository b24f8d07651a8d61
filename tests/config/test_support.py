"""Support comes in by the coaches' door with its second step, looks, and changes something only for a reason that is told."""

from __future__ import annotations

import datetime as dt
import html

import pytest
import time_machine
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal import auth as totp
from django.contrib import admin
from django.test import Client
from django.urls import reverse

from classroom.models import AuditEntry, Team
from config.support.told import clubs_of
from tests import factories as make
from tests.conftest import signed_in_support
from tests.pages import page_of

REASON = "The lead coach wrote in on Monday: wrong name."


@pytest.fixture
def staff(db):
    return make.UserFactory(is_staff=True, is_superuser=True)


@pytest.fixture
def support(staff):
    return signed_in_support(staff)


def address(row, doing="change"):
    name = f"admin:{row._meta.app_label}_{row._meta.model_name}_{doing}"
    return reverse(name, args=[row.pk] if doing != "add" else [])


def give_reason(client):
    return client.post(reverse("admin:reason"), {"reason": REASON})


def lines(club):
    return [f"{row.actor.split(':')[0]} {row.verb} {row.subject}" for row in AuditEntry.objects.filter(club=club)]


def test_support_has_no_door_of_its_own(staff):
    page = Client().get("/support/", follow=True)
    assert page.redirect_chain[-1][0].startswith(reverse("account_login"))
    answer = Client().post("/support/login/", {"username": staff.email, "password": make.PASSWORD})
    assert answer.status_code == 302 and answer.url.startswith(reverse("account_login"))


def test_guessing_at_it_is_slowed_as_at_the_coaches_door(staff, settings):
    settings.ACCOUNT_RATE_LIMITS = {"login_failed": "10/5m/ip,5/5m/key"}
    said = [
        page_of(
            Client().post(
                reverse("account_login") + "?next=/support/", {"login": staff.email, "password": f"guess {n}"}
            )
        )
        for n in range(7)
    ]
    assert "Too many tries" in said[-1] and "Too many tries" not in said[0]


def test_a_password_alone_does_not_open_it(staff):
    client = Client()
    client.post(reverse("account_login"), {"login": staff.email, "password": make.PASSWORD})
    assert client.get("/support/").status_code == 302
    page = client.get("/support/", follow=True)
    assert page.redirect_chain[-1][0] == reverse("mfa_index") and "need a second step" in page_of(page)


def test_the_second_step_of_another_sign_in_does_not_open_it(support, staff):
    client = Client()
    client.force_login(staff, backend="allauth.account.auth_backends.AuthenticationBackend")
    assert "in again with your code" in page_of(client.get("/support/", follow=True))


def test_a_second_step_that_was_switched_off_closes_it(support, staff):
    Authenticator.objects.filter(user=staff).delete()
    assert support.get("/support/").status_code == 302


def test_both_steps_typed_in_open_it(staff, code_of):
    secret = totp.generate_totp_secret()
    totp.TOTP.activate(staff, secret)
    client = Client()
    client.post(reverse("account_login") + "?next=/support/", {"login": staff.email, "password": make.PASSWORD})
    answer = client.post(reverse("mfa_authenticate"), {"code": code_of(secret)}, follow=True)
    assert answer.redirect_chain[-1][0] == "/support/" and answer.status_code == 200


def test_a_coach_is_told_whose_pages_these_are(cast):
    assert cast.as_coach.get("/support/", follow=True).status_code == 403


def test_every_kind_of_record_is_looked_at_only(support, cast):
    for model in admin.site._registry:
        listed = reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_changelist")
        assert support.get(listed).status_code == 200, model
        adding = reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_add")
        assert support.post(adding, {}).status_code == 403, model
    for row in (cast.team_a, cast.coach, cast.coach.user, cast.member_a, cast.club):
        assert support.get(address(row)).status_code == 200
        assert support.post(address(row), {}).status_code == 403
        assert support.post(address(row, "delete"), {"post": "yes"}).status_code == 403
    many = {"action": "delete_selected", "_selected_action": [cast.team_a.pk], "post": "yes"}
    support.post(reverse("admin:classroom_team_changelist"), many)
    assert Team.objects.filter(pk=cast.team_a.pk).exists()


def test_for_a_reason_it_changes_and_the_club_reads_what_and_why(support, cast):
    assert give_reason(support).status_code == 302
    team = cast.team_a
    details = {"club": team.club_id, "name": "Dunlin", "join_code": team.join_code, "order": 0}
    assert support.post(address(team), details).status_code == 302
    assert Team.objects.get(pk=team.pk).name == "Dunlin"
    assert {f"support support changed team:{team.pk}", f"support support gave as its reason {REASON}"} <= set(
        lines(cast.club)
    )
    page = page_of(cast.as_coach.get(reverse("audit_log")))
    assert REASON in page and "helmroom's support" in page.replace("&#x27;", "'")


def test_what_it_deletes_one_by_one_or_many_at_once_is_told(support, cast):
    give_reason(support)
    support.post(address(cast.team_a, "delete"), {"post": "yes"})
    many = {"action": "delete_selected", "_selected_action": [cast.team_b.pk], "post": "yes"}
    support.post(reverse("admin:classroom_team_changelist"), many)
    assert not Team.objects.filter(club=cast.club).exists()
    for team in (cast.team_a, cast.team_b):
        assert f"support support deleted team:{team.pk}" in lines(cast.club)


def test_a_reason_needs_words_and_holds_half_an_hour(support, cast):
    assert support.post(reverse("admin:reason"), {"reason": "because"}).status_code == 422
    assert support.post(address(cast.team_a), {}).status_code == 403
    give_reason(support)
    assert support.post(address(cast.team_a), {}).status_code == 200
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(minutes=31)):
        assert support.post(address(cast.team_a), {}).status_code == 403
    support.post(reverse("admin:reason"), {"end": "1"})
    assert support.post(address(cast.team_a), {}).status_code == 403


def test_the_log_itself_is_never_added_to_changed_or_deleted_by_hand(support, cast):
    entry = AuditEntry.objects.create(club=cast.club, at=make.NOW, actor="coach:1", verb="said")
    give_reason(support)
    forged = {"club": cast.club.pk, "at_0": "2026-01-01", "at_1": "10:00", "actor": "coach:1", "verb": "forged"}
    assert support.post(address(entry, "add"), forged).status_code == 403
    assert support.post(address(entry), forged).status_code == 403
    assert support.post(address(entry, "delete"), {"post": "yes"}).status_code == 403
    assert support.get(address(entry)).status_code == 200


@pytest.mark.parametrize(
    "typed",
    ["[" * 20_000, '{"a":' * 20_000, "[Infinity]", "[NaN]", '"\\ud800"', '["\\u0000"]', "1" * 5000],
    ids=["deep", "deep objects", "no number", "nan", "half a character", "nul", "digits"],
)
def test_a_document_that_cannot_be_kept_is_refused_as_it_was_typed(support, cast, typed):
    give_reason(support)
    tier = make.mission_with_tiers(cast.club)[1][0]
    answer = support.post(address(tier), {"obstacles": typed, "criteria": "[]"})
    assert answer.status_code == 200 and typed[:20] in html.unescape(answer.content.decode())
    assert "obstacles" in answer.context["adminform"].form.errors


def test_no_secret_is_shown(support, staff):
    row = Authenticator.objects.get(user=staff, type="totp")
    assert row.data["secret"] not in page_of(support.get(address(row)))


def test_each_record_finds_its_club(cast):
    tiers = make.mission_with_tiers(cast.club)[1]
    rows = [
        cast.club,
        cast.coach,
        cast.team_a,
        cast.member_a,
        cast.link_a,
        tiers[0],
        make.AttemptFactory(team=cast.team_a),
    ]
    assert [clubs_of(row) for row in rows] == [[cast.club]] * len(rows)
    assert clubs_of(cast.coach.user) == [cast.club]
    assert clubs_of(make.UserFactory()) == []


@pytest.mark.parametrize("words", ["word " * 1200, "\u00e9" * 30_000], ids=["many words", "a long one"])
@pytest.mark.parametrize("kind", ["auth_group", "classroom_user"])
def test_a_search_for_more_than_anybody_would_type_is_refused_in_words(support, kind, words):
    """SQLite takes neither so many conditions nor so long a pattern."""
    page = support.get(reverse(f"admin:{kind}_changelist"), {"q": words})
    assert page.status_code == 200
    assert "Search for 200 letters at most" in page_of(page)
    assert page.context["cl"].result_count == 0
