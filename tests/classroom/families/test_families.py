"""One link, one child: the door says nothing, opens once a visit, and shows no other child."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from classroom.errors import ConflictError, InputError
from classroom.families.share_summary import (
    TOKEN_BYTES,
    approved_words,
    keep_contact,
    make_link,
    open_link,
    replace_link,
    revoke_link,
    withdraw_consent,
    words_mark,
    write_words,
)
from classroom.models import AuditEntry, GuardianContact, SummaryLink, SummaryWords
from classroom.site.tokens import digest_of
from missions.family.drafts import draft_words
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
UNKNOWN = "A" * 43


@pytest.fixture
def at_now():
    with time_machine.travel(NOW, tick=False):
        yield


def door(token):
    return reverse("family_door", args=[token])


def opened(token):
    guardian = Client()
    return guardian, guardian.post(door(token))


# The link (guard, security 8)


def test_a_token_has_256_bits_and_only_its_digest_is_kept(cast):
    link, token = make_link(cast.member_a, cast.coach, now=NOW)
    assert TOKEN_BYTES * 8 == 256 and len(token) == 43
    row = SummaryLink.objects.filter(pk=link.pk).values().get()
    assert row["token_digest"] == digest_of(token) and token not in str(row)


def test_no_two_links_share_a_token(cast):
    assert len({make_link(cast.member_a, cast.coach, now=NOW)[1] for _ in range(50)}) == 50


def test_looking_at_the_address_says_nothing_and_changes_nothing(cast, at_now):
    """Messengers fetch addresses to show a preview."""
    link, token = make_link(cast.member_a, cast.coach, now=NOW)
    client = Client()
    right, wrong = client.get(door(token)), client.get(door(UNKNOWN))

    def without_form_token(answer):
        return re.sub(r'(csrfmiddlewaretoken" value="|X-CSRFToken": ")[^"]+', "", page_of(answer))

    assert without_form_token(right) == without_form_token(wrong)
    assert "Robin" not in page_of(right) and "Saltmarsh" not in page_of(right)
    link.refresh_from_db()
    assert link.last_opened_at is None and "sessionid" not in right.cookies


def test_the_button_opens_a_clean_address_with_a_new_session(cast, at_now):
    _, token = make_link(cast.member_a, cast.coach, now=NOW)
    guardian = Client()
    session = guardian.session
    session["planted"] = True
    session.save()
    before = session.session_key
    answer = guardian.post(door(token))
    assert answer.url == "/family/" and token not in answer.url
    assert guardian.session.session_key != before and "planted" not in guardian.session
    page = guardian.get("/family/")
    assert "Robin" in page_of(page) and token not in page_of(page)


@pytest.mark.parametrize("path", ["door", "/family/"])
def test_nothing_of_it_is_cached_or_told_to_others(cast, at_now, path):
    _, token = make_link(cast.member_a, cast.coach, now=NOW)
    guardian, _ = opened(token)
    answer = guardian.get(door(token) if path == "door" else path)
    assert "no-store" in answer["Cache-Control"] and answer["Referrer-Policy"] == "no-referrer"
    assert "noindex" in answer["X-Robots-Tag"]


def test_unknown_expired_and_revoked_links_answer_alike(cast, at_now):
    _, expired = make_link(cast.member_a, cast.coach, now=NOW - dt.timedelta(days=121))
    revoked_link, revoked = make_link(cast.member_a, cast.coach, now=NOW)
    revoke_link(revoked_link, cast.coach, now=NOW)
    answers = [opened(token)[1] for token in (UNKNOWN, expired, revoked)]
    assert [a.status_code for a in answers] == [404] * 3
    bodies = {re.sub(r'X-CSRFToken": "[^"]+', "", page_of(a)) for a in answers}
    assert len(bodies) == 1 and "Ask your club" in bodies.pop()


def test_a_visit_ends_by_itself(cast, settings):
    with time_machine.travel(NOW, tick=False) as clock:
        _, token = make_link(cast.member_a, cast.coach, now=NOW)
        guardian, _ = opened(token)
        clock.shift(dt.timedelta(minutes=settings.HELMROOM_FAMILY_MINUTES - 1))
        assert guardian.get("/family/").status_code == 200
        clock.shift(dt.timedelta(minutes=2))
        assert guardian.get("/family/").status_code == 404


def test_revoking_shuts_out_whoever_is_looking(cast, at_now):
    link, token = make_link(cast.member_a, cast.coach, now=NOW)
    guardian, _ = opened(token)
    revoke_link(link, cast.coach, now=NOW)
    assert guardian.get("/family/").status_code == 404


def test_replacing_a_link_ends_the_old_address(cast, at_now):
    link, old = make_link(cast.member_a, cast.coach, now=NOW)
    _, new = replace_link(link, cast.coach, now=NOW)
    assert open_link(old, now=NOW) is None and open_link(new, now=NOW).member == cast.member_a


def test_opening_is_noted_for_the_coach(cast, at_now):
    link, token = make_link(cast.member_a, cast.coach, now=NOW)
    opened(token)
    link.refresh_from_db()
    assert link.last_opened_at == NOW
    assert AuditEntry.objects.filter(verb="opened summary", subject=f"member:{cast.member_a.pk}").count() == 1


def test_the_button_needs_its_own_form(cast, at_now):
    _, token = make_link(cast.member_a, cast.coach, now=NOW)
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(door(token)).status_code == 403
    page = page_of(strict.get(door(token)))
    csrf = re.search(r'csrfmiddlewaretoken" value="([^"]+)"', page)[1]
    null_origin = {"origin": "null"}  # what browsers send under no-referrer
    assert strict.post(door(token), headers=null_origin).status_code == 403
    assert strict.post(door(token), {"csrfmiddlewaretoken": csrf}, headers={"origin": "http://evil.example"}).status_code == 403  # fmt: skip
    assert strict.post(door(token), {"csrfmiddlewaretoken": csrf}, headers=null_origin).status_code == 302


def test_a_guardian_reaches_nothing_else(cast, at_now):
    _, token = make_link(cast.member_a, cast.coach, now=NOW)
    guardian, _ = opened(token)
    for name in ("teams", "robots", "families", "club_settings", "team_mission"):
        assert guardian.get(reverse(name)).status_code == 404


# What is shown (guard P6, P7, P14)


@pytest.fixture
def term(cast):
    make.TermFactory(club=cast.club, name="Autumn term")
    mission, tiers = make.mission_with_tiers(cast.club)
    mission.title = "Tide gate"
    mission.save()
    make.ProgressFactory(team=cast.team_a, tier=tiers[0].tier, state="passed", passed_at=NOW)
    make.ProgressFactory(team=cast.team_a, tier=tiers[1].tier, state="working")
    make.AttemptFactory(team=cast.team_a, tier_version=tiers[1], success=False, cause="turned_too_far")
    return tiers


def test_only_approved_words_are_shown_and_a_newer_draft_is_not(cast, at_now, term):
    words = {"learnt": "Tape", "working_on": "Turns", "ask_at_home": "Why?"}
    write_words(cast.member_a, cast.coach, approve=False, now=NOW, **words)
    assert approved_words(cast.member_a) is None
    write_words(cast.member_a, cast.coach, approve=True, now=NOW, **words)
    write_words(cast.member_a, cast.coach, approve=False, now=NOW, **(words | {"learnt": "A secret draft"}))
    page = page_of(cast.as_guardian_a.get("/family/"))
    assert "Tape" in page and "A secret draft" not in page


def test_no_other_child_and_no_ranking_is_in_a_summary(cast, term):
    other = make.MembershipFactory(team=cast.team_a, member__nickname="Whimbrel").member
    write_words(other, cast.coach, learnt="Whimbrels words", working_on="x", ask_at_home="y", approve=True, now=NOW)
    page = page_of(cast.as_guardian_a.get("/family/"))
    assert "Robin" in page
    for name in ("Whimbrel", "Linnet", "Plover"):
        assert name not in page
    assert not re.search(r"\b(rank|place|best team|better than|leaderboard|streak)\b", page, re.IGNORECASE)


def test_each_family_sees_its_own_child(cast, term):
    assert "Linnet" in page_of(cast.as_guardian_b.get("/family/"))
    assert "Robin" not in page_of(cast.as_guardian_b.get("/family/"))


def test_a_child_in_no_team_or_without_a_run_has_a_page_too(cast):
    assert cast.as_guardian_a.get("/family/").status_code == 200
    cast.member_a.memberships.update(left_on=NOW.date())
    assert "in no team" in page_of(cast.as_guardian_a.get("/family/"))


# The coach's side


def test_sentences_are_drafted_from_the_records_and_kept_by_nobody(cast, term):
    draft = draft_words(cast.member_a, now=NOW)
    assert "come home" in draft.learnt
    assert "Tide gate" in draft.working_on and "turns that come out too large" in draft.working_on
    assert draft.ask_at_home == "How did you find out that the robot turned too far?"
    assert not SummaryWords.objects.exists()
    assert all(len(s) <= 200 for s in (draft.learnt, draft.working_on, draft.ask_at_home))


def test_words_are_refused_with_what_was_typed(cast):
    url = reverse("family_words", args=[cast.member_a.pk])
    answer = cast.as_coach.post(url, {"learnt": "Tape", "working_on": "", "ask_at_home": "x" * 201})
    assert answer.status_code == 422 and "Tape</textarea>" in page_of(answer)


def test_approving_says_who_and_when(cast):
    words = {"learnt": "Tape", "working_on": "Turns", "ask_at_home": "Why?", "do": "approve", "approved_by": "1"}
    words["seen"] = words_mark(cast.member_a)
    cast.as_assistant.post(reverse("family_words", args=[cast.member_a.pk]), words)
    assert approved_words(cast.member_a).approved_by == cast.assistant


def test_what_the_coach_previews_is_what_the_family_sees(cast, at_now, term):
    seen = page_of(cast.as_guardian_a.get("/family/"))
    preview = page_of(cast.as_coach.get(reverse("family_preview", args=[cast.member_a.pk])))

    def body(page):
        return page[page.index('<header class="card hello">') : page.index("<footer")]

    assert body(seen) == body(preview)


# Contact and consent (guard P4, P5)


def test_an_address_is_kept_only_with_a_record_of_consent(cast):
    url = reverse("family_contact", args=[cast.member_a.pk])
    assert cast.as_coach.post(url, {"email": "wader@example.org"}).status_code == 422
    assert not GuardianContact.objects.exists()
    cast.as_coach.post(url, {"email": "wader@example.org", "consented": "on"})
    contact = GuardianContact.objects.get()
    assert contact.consent_notice and contact.consented_at and contact.consent_recorded_by == cast.coach


def test_withdrawing_wipes_the_address_ends_its_links_and_keeps_the_record(cast):
    contact = keep_contact(cast.member_a, cast.coach, email="w@example.org", language="en", consented=True, now=NOW)
    _, token = make_link(cast.member_a, cast.coach, now=NOW, contact=contact)
    withdraw_consent(contact, cast.coach, now=NOW)
    contact.refresh_from_db()
    assert contact.email == "" and contact.withdrawn_at == NOW and contact.consented_at == NOW
    assert open_link(token, now=NOW) is None


def test_an_address_is_kept_once_and_never_mixed_between_children(cast):
    contact = keep_contact(cast.member_a, cast.coach, email="w@example.org", language="en", consented=True, now=NOW)
    with pytest.raises(ConflictError):
        keep_contact(cast.member_a, cast.coach, email="w@example.org", language="en", consented=True, now=NOW)
    with pytest.raises(InputError):
        make_link(cast.member_b, cast.coach, now=NOW, contact=contact)


def test_no_guardians_address_reaches_a_tablet(cast):
    keep_contact(cast.member_a, cast.coach, email="wader@example.org", language="en", consented=True, now=NOW)
    for name in ("team_mission", "team_log", "team_robot"):
        assert "wader@" not in page_of(cast.as_team_a.get(reverse(name)))
