"""Links, contacts and words to the row: exact moments, whole sentences, who stands in the log."""

from __future__ import annotations

import datetime as dt
import hashlib

import pytest

from classroom.errors import ConflictError, InputError
from classroom.families.share_summary import (
    NOTICE,
    approved_words,
    digest_of,
    keep_contact,
    make_link,
    open_link,
    replace_link,
    revoke_link,
    withdraw_consent,
    words_mark,
    write_words,
)
from classroom.models import GuardianContact, SummaryLink, SummaryWords
from tests import factories as make
from tests.log import noted_by

NOW = make.NOW
SECOND = dt.timedelta(seconds=1)
WORDS = {"learnt": "Tape", "working_on": "Turns", "ask_at_home": "Why?"}


def contact_of(cast, email="wader@example.org", member=None):
    return keep_contact(member or cast.member_a, cast.coach, email=email, language="cy", consented=True, now=NOW)


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


def test_a_digest_is_the_sha_256_of_the_token():
    """Against the standard's own example for "abc" (NIST, FIPS 180-4 examples)."""
    assert digest_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert digest_of("é") == hashlib.sha256(b"\xc3\xa9").hexdigest()


def test_a_link_is_kept_with_its_child_its_contact_who_made_it_and_its_end(cast, settings):
    settings.HELMROOM_LINK_DAYS = 120
    contact = contact_of(cast)
    link, token = make_link(cast.member_a, cast.assistant, now=NOW, contact=contact)
    row = SummaryLink.objects.get(pk=link.pk)
    assert (row.member, row.contact, row.created_by) == (cast.member_a, contact, cast.assistant)
    assert (row.created_at, row.expires_at) == (NOW, NOW + dt.timedelta(days=120))
    assert (row.token_digest, row.revoked_at, row.last_opened_at) == (digest_of(token), None, None)
    assert len(token) == 43, "32 bytes in base 64 (RFC 4648) without padding"


def test_the_letters_of_a_childs_links_are_its_own(cast):
    SummaryLink.objects.filter(pk=cast.link_b.pk).update(letter="K")
    assert [make_link(cast.member_a, cast.coach, now=NOW)[0].letter for _ in range(2)] == ["B", "C"]  # its first is A
    assert make_link(cast.member_b, cast.coach, now=NOW)[0].letter == "L"


def test_a_link_needs_no_contact_and_takes_no_other_childs(cast):
    assert make_link(cast.member_a, cast.coach, now=NOW)[0].contact is None
    theirs = contact_of(cast, member=cast.member_b)
    assert refused(InputError, lambda: make_link(cast.member_a, cast.coach, now=NOW, contact=theirs)) == (
        "other_child",
        "This contact belongs to another child.",
    )


def test_contacts_without_e_mail_may_be_several(cast):
    first, second = contact_of(cast, email=""), contact_of(cast, email="")
    assert first.pk != second.pk and GuardianContact.objects.filter(member=cast.member_a, email="").count() == 2


def test_replacing_keeps_child_and_contact_and_ends_the_old_link(cast):
    contact = contact_of(cast)
    old, _ = make_link(cast.member_a, cast.coach, now=NOW, contact=contact)
    new, _ = replace_link(old, cast.coach, now=NOW + SECOND)
    assert (new.member, new.contact, new.created_at) == (cast.member_a, contact, NOW + SECOND)
    assert SummaryLink.objects.get(pk=old.pk).revoked_at == NOW + SECOND
    assert SummaryLink.objects.get(pk=new.pk).revoked_at is None


def test_a_link_ends_once(cast):
    link, _ = make_link(cast.member_a, cast.coach, now=NOW)
    revoke_link(link, cast.coach, now=NOW)
    revoke_link(link, cast.coach, now=NOW + SECOND)
    assert SummaryLink.objects.get(pk=link.pk).revoked_at == NOW


@pytest.mark.parametrize(
    ("other", "opens"),
    [
        ({}, True),
        ({"revoked_at": NOW}, False),
        ({"expires_at": NOW + SECOND}, True),
        ({"expires_at": NOW}, False),
    ],
)
def test_a_token_opens_its_link_to_the_second(cast, other, opens):
    link, token = make_link(cast.member_a, cast.coach, now=NOW - dt.timedelta(days=1))
    make_link(cast.member_b, cast.coach, now=NOW)
    SummaryLink.objects.filter(pk=link.pk).update(**other)
    assert open_link(token, now=NOW) == (link if opens else None)
    assert SummaryLink.objects.get(pk=link.pk).last_opened_at == (NOW if opens else None)
    assert SummaryLink.objects.get(member=cast.member_b, revoked_at=None, created_by=cast.coach).last_opened_at is None


def test_a_contact_is_kept_with_the_consent_it_rests_on(cast):
    row = GuardianContact.objects.get(pk=contact_of(cast).pk)
    assert (row.member, row.email, row.language) == (cast.member_a, "wader@example.org", "cy")
    assert (row.consent_notice, row.consented_at, row.consent_recorded_by) == (NOTICE, NOW, cast.coach)
    assert (row.withdrawn_at, NOTICE) == (None, "family summary 2026-11")


def test_no_address_without_consent_and_none_twice_for_a_child(cast):
    def keep(consented):
        keep_contact(cast.member_a, cast.coach, email="w@example.org", language="en", consented=consented, now=NOW)

    assert refused(InputError, lambda: keep(False)) == (
        "no_consent",
        "Ask the guardian first; without their consent no address is kept.",
    )
    keep(True)
    assert refused(ConflictError, lambda: keep(True)) == ("there_already", "This address is there already.")
    contact_of(cast, "w@example.org", cast.member_b)
    contact_of(cast, "other@example.org")


def test_withdrawing_ends_the_links_of_that_contact_and_no_other(cast):
    first, second = contact_of(cast), contact_of(cast, "other@example.org")
    mine, _ = make_link(cast.member_a, cast.coach, now=NOW, contact=first)
    before, _ = make_link(cast.member_a, cast.coach, now=NOW, contact=first)
    revoke_link(before, cast.coach, now=NOW)
    theirs, _ = make_link(cast.member_a, cast.coach, now=NOW, contact=second)
    withdraw_consent(first, cast.coach, now=NOW + SECOND)
    stand = {link.pk: link.revoked_at for link in SummaryLink.objects.filter(pk__in=[mine.pk, before.pk, theirs.pk])}
    assert stand == {mine.pk: NOW + SECOND, before.pk: NOW, theirs.pk: None}
    row = GuardianContact.objects.get(pk=first.pk)
    assert (row.email, row.withdrawn_at, row.consented_at) == ("", NOW + SECOND, NOW)
    assert GuardianContact.objects.get(pk=second.pk).email == "other@example.org"


@pytest.mark.parametrize(("approve", "by", "at"), [(True, "coach", NOW), (False, None, None)])
def test_words_are_kept_as_written_and_approved_by_whoever_approves(cast, approve, by, at):
    words = write_words(cast.member_a, cast.coach, approve=approve, now=NOW, **WORDS)
    row = SummaryWords.objects.get(pk=words.pk)
    assert (row.member, row.learnt, row.working_on, row.ask_at_home) == (cast.member_a, *WORDS.values())
    assert (row.written_at, row.approved_at) == (NOW, at)
    assert row.approved_by == (cast.coach if by else None)


def test_families_see_no_words_as_long_as_none_are_approved(cast):
    write_words(cast.member_a, cast.coach, approve=False, now=NOW, **WORDS)
    assert approved_words(cast.member_a) is None


def test_families_see_the_newest_that_was_approved(cast):
    first = write_words(cast.member_a, cast.coach, approve=True, now=NOW, **WORDS)
    write_words(cast.member_b, cast.coach, approve=True, now=NOW + SECOND, **WORDS)
    write_words(cast.member_a, cast.coach, approve=False, now=NOW + SECOND, **WORDS)
    assert approved_words(cast.member_a) == first
    write_words(cast.member_a, cast.coach, approve=True, now=NOW + SECOND, **WORDS)
    newest = write_words(cast.member_a, cast.coach, approve=True, now=NOW + SECOND, **WORDS)
    assert approved_words(cast.member_a) == newest
    write_words(cast.member_a, cast.coach, approve=True, now=NOW, **WORDS)
    assert approved_words(cast.member_a) == newest


@pytest.mark.parametrize("approve", [True, False])
def test_the_slower_of_two_writers_hears_who_wrote(cast, approve):
    seen = words_mark(cast.member_a)
    write_words(cast.member_b, cast.coach, approve=True, now=NOW, **WORDS)
    assert words_mark(cast.member_a) == seen
    write_words(cast.member_a, cast.assistant, approve=approve, seen=seen, now=NOW, **WORDS)
    first = words_mark(cast.member_a)
    code, words = refused(
        ConflictError, lambda: write_words(cast.member_a, cast.coach, approve=True, seen=seen, now=NOW, **WORDS)
    )
    assert code == "changed_meanwhile" and words.startswith(f"{cast.assistant} changed this")
    write_words(cast.member_a, cast.assistant, approve=True, now=NOW, **WORDS)
    assert len({seen, first, words_mark(cast.member_a)}) == 3


ACTS = {
    "a link": (lambda c: make_link(c.member_a, c.coach, now=NOW), ["lead made family link (link link for Robin)"]),
    "the end of a link": (
        lambda c: revoke_link(c.link_a, c.coach, now=NOW),
        ["lead revoked family link (link link for Robin)"],
    ),
    "another link in place of one": (
        lambda c: replace_link(c.link_a, c.coach, now=NOW),
        ["lead revoked family link (link link for Robin)", "lead made family link (link link for Robin)"],
    ),
    "a look through a link": (
        lambda c: look(c),
        ["lead made family link (link link for Robin)", "summarylink link for Robin opened summary (member Robin)"],
    ),
    "a contact": (lambda c: contact_of(c), ["lead recorded consent (member Robin)"]),
    "a contact gone": (
        lambda c: withdraw_consent(contact_of(c), c.coach, now=NOW),
        ["lead recorded consent (member Robin)", "lead withdrew consent (member Robin)"],
    ),
    "words": (
        lambda c: write_words(c.member_a, c.coach, approve=False, now=NOW, **WORDS),
        ["lead drafted summary (member Robin)"],
    ),
    "approved words": (
        lambda c: write_words(c.member_a, c.assistant, approve=True, now=NOW, **WORDS),
        ["assistant approved summary (member Robin)"],
    ),
}


def look(cast):
    _, token = make_link(cast.member_a, cast.coach, now=NOW)
    open_link(token, now=NOW)


@pytest.mark.parametrize("what", ACTS)
def test_the_log_says_who_did_what_for_which_child(cast, what):
    act, entries = ACTS[what]
    assert noted_by(lambda: act(cast), cast.club, NOW) == entries
