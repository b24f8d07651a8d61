"""E-mails to guardians: with consent only, never twice, tried again after pauses, stopped by one press; nothing of a child in them.

Sources, from memory: RFC 5321, 4.2.1 (4yz may be tried again, 5yz not); RFC 8058, 3.1 and 3.2 (one press by POST over HTTPS
without cookies); RFC 2369 (List-Unsubscribe); GDPR art. 7(3) (withdrawing is as easy as giving).
"""

from __future__ import annotations

import datetime as dt
import logging
import re

import pytest
from django.core import mail
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse

from classroom.errors import ConflictError, InputError
from classroom.families.letters import (
    LOST_AFTER,
    PAUSES,
    due_letters,
    mail_came_back,
    mark_lost_letters,
    may_be_written_to,
    send_letter,
    stop_mail,
    write_letter,
    write_letters,
)
from classroom.families.share_summary import keep_contact, open_link, withdraw_consent
from classroom.models import AuditEntry, FamilyLetter, SummaryLink
from classroom.records.services.erase_child import erase_child
from classroom.site.tokens import digest_of
from tests import factories as make
from tests.classroom.families.mail_server import MailServer
from tests.pages import page_of

NOW = make.NOW
SECOND = dt.timedelta(seconds=1)
ADDRESS = "wader@example.org"
TOKEN = re.compile(r"/family/([A-Za-z0-9_-]{43})/")
STOP = re.compile(r"/family/no-mail/([A-Za-z0-9_-]{43})/")


@pytest.fixture
def contact(cast):
    return keep_contact(cast.member_a, cast.coach, email=ADDRESS, language="en", consented=True, now=NOW)


@pytest.fixture
def letter(cast, contact):
    return write_letter(contact, cast.assistant, now=NOW)


@pytest.fixture
def by_server(settings):
    """Mail goes to a server of the test's own."""

    def to(server: MailServer) -> None:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", server.port, 10

    return to


def fresh(letter):
    return FamilyLetter.objects.get(pk=letter.pk)


def every_row() -> str:
    with connection.cursor() as cursor:
        told = []
        for table in connection.introspection.table_names():
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            told += [str(row) for row in cursor.fetchall()]
    return "\n".join(told)


# What leaves


def test_the_letter_in_full(letter, settings):
    settings.HELMROOM_ADDRESS = "https://club.example"
    assert send_letter(letter.pk, now=NOW) == "sent"
    (left,) = mail.outbox
    token, stop = TOKEN.search(left.body)[1], STOP.search(left.body)[1]
    assert (left.to, left.subject) == ([ADDRESS], "Saltmarsh Makers Club: a summary for your family")
    assert left.body == (
        "Your club, Saltmarsh Makers Club, has a summary of the term for your family. This link opens it until 18 March 2027:\n\n"
        f"https://club.example/family/{token}/\n\n"
        "The link is yours alone: whoever has it can read the summary. Ask the club's coach to end it at any time.\n\n"
        "You have this e-mail because you agreed to it. If you want no more, open this address and press the button:\n\n"
        f"https://club.example/family/no-mail/{stop}/\n"
    )
    assert left.extra_headers == {
        "List-Unsubscribe": f"<https://club.example/family/no-mail/{stop}/>",
        "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
    }


def test_without_https_no_program_is_told_to_press(letter):
    send_letter(letter.pk, now=NOW)
    assert mail.outbox[0].extra_headers == {} and STOP.search(mail.outbox[0].body)


def test_the_link_in_it_opens_that_childs_page_and_is_the_contacts(cast, contact, letter):
    send_letter(letter.pk, now=NOW)
    link = open_link(TOKEN.search(mail.outbox[0].body)[1], now=NOW)
    assert (link.member, link.contact, link.created_by) == (cast.member_a, contact, cast.assistant)
    assert fresh(letter).link == link and fresh(letter).sent_at == NOW


def test_nothing_of_the_child_is_in_it_and_no_token_in_any_row_or_line(cast, letter, caplog):
    """Guard P7 and security 8."""
    caplog.set_level(logging.DEBUG)
    send_letter(letter.pk, now=NOW)
    (left,) = mail.outbox
    for word in ("Robin", "Linnet", "Curlew"):
        assert word not in left.subject + left.body
    tokens = (TOKEN.search(left.body)[1], STOP.search(left.body)[1])
    told = every_row() + caplog.text
    assert not any(token in told for token in tokens) and digest_of(tokens[0]) in told
    assert not any(word in caplog.text for word in ("Robin", ADDRESS))


def test_the_log_says_who_asked_and_that_it_went(cast, letter):
    assert AuditEntry.objects.filter(
        actor=f"coach:{cast.assistant.pk}",
        verb="asked for a family's e-mail",
        subject=f"member:{cast.member_a.pk}",
        at=NOW,
    ).exists()
    send_letter(letter.pk, now=NOW)
    assert "sent a family&#x27;s e-mail" in page_of(cast.as_coach.get(reverse("audit_log"))).lower()


# Never twice


def test_a_letter_leaves_once_however_often_it_is_asked_to(letter):
    assert [send_letter(letter.pk, now=NOW + n * SECOND) for n in range(3)] == ["sent", "gone", "gone"]
    assert len(mail.outbox) == 1 and not due_letters(NOW + dt.timedelta(days=9)).exists()


def test_one_that_was_being_handed_over_when_the_power_failed_is_not_sent_again(letter):
    FamilyLetter.objects.update(state="leaving", next_try_at=None, left_at=NOW, tries=1)
    assert send_letter(letter.pk, now=NOW + LOST_AFTER) == "gone" and mail.outbox == []
    assert mark_lost_letters(NOW + LOST_AFTER) == 0 and fresh(letter).state == "leaving"
    assert mark_lost_letters(NOW + LOST_AFTER + SECOND) == 1 and fresh(letter).state == "unsure"


def test_a_second_press_makes_no_second_letter(cast, contact, letter):
    with pytest.raises(ConflictError) as refused:
        write_letter(contact, cast.coach, now=NOW)
    assert refused.value.code == "letter_underway" and FamilyLetter.objects.count() == 1


@pytest.mark.parametrize(
    "untrue",
    [
        {"state": "sent", "next_try_at": None},
        {"state": "waiting", "next_try_at": None},
        {"state": "not_sent"},
        {"state": "posted", "next_try_at": None},
        {"sent_at": NOW},
    ],
)
def test_the_database_refuses_a_letter_that_cannot_be(letter, untrue):
    with pytest.raises(IntegrityError), transaction.atomic():
        FamilyLetter.objects.filter(pk=letter.pk).update(**untrue)


# Consent


@pytest.mark.parametrize("how", ["withdrawn", "no address", "no consent", "came back"])
def test_without_a_consent_that_stands_none_is_asked_for(cast, contact, how):
    if how == "withdrawn":
        withdraw_consent(contact, cast.coach, now=NOW)
    elif how == "came back":
        mail_came_back(contact, cast.coach, now=NOW)
    else:
        type(contact).objects.filter(pk=contact.pk).update(
            **({"email": ""} if how == "no address" else {"consented_at": None})
        )
    with pytest.raises(InputError) as refused:
        write_letter(contact, cast.coach, now=NOW)
    assert refused.value.code == "no_mail" and not may_be_written_to(cast.club).exists()


def test_consent_that_is_withdrawn_while_it_waits_keeps_it_here(cast, contact, letter):
    withdraw_consent(contact, cast.coach, now=NOW)
    assert fresh(letter).state == "not_sent" and send_letter(letter.pk, now=NOW) == "gone" and mail.outbox == []


def test_consent_is_looked_at_again_in_the_moment_of_leaving(contact, letter):
    type(contact).objects.filter(pk=contact.pk).update(consented_at=None)
    assert send_letter(letter.pk, now=NOW) == "gone"
    assert fresh(letter).state == "not_sent" and mail.outbox == []


def test_a_new_consent_lets_e_mail_go_again(cast, contact):
    mail_came_back(contact, cast.coach, now=NOW)
    again = keep_contact(cast.member_a, cast.coach, email=ADDRESS, language="en", consented=True, now=NOW + SECOND)
    assert again.pk == contact.pk and again.consented_at == NOW + SECOND
    assert write_letter(again, cast.coach, now=NOW).state == "waiting"


def test_all_families_that_agreed_and_no_other_clubs(cast, contact):
    keep_contact(cast.member_b, cast.coach, email="dunlin@example.org", language="en", consented=True, now=NOW)
    elsewhere = make.MembershipFactory(team__club=cast.other_coach.club).member
    keep_contact(elsewhere, cast.other_coach, email="heron@example.org", language="en", consented=True, now=NOW)
    left = make.MembershipFactory(team=cast.team_a, left_on=NOW.date()).member
    keep_contact(left, cast.coach, email="knot@example.org", language="en", consented=True, now=NOW)
    assert write_letters(cast.coach, now=NOW) == 2 and write_letters(cast.coach, now=NOW) == 0
    assert {each.contact.email for each in FamilyLetter.objects.all()} == {ADDRESS, "dunlin@example.org"}


# The mail server's answers


def test_a_server_that_takes_it_gets_it_once(letter, by_server):
    with MailServer() as server:
        by_server(server)
        assert send_letter(letter.pk, now=NOW) == "sent"
    assert len(server.taken) == 1 and f"To: {ADDRESS}" in server.taken[0]


def test_a_server_that_is_away_has_it_tried_again_after_pauses_that_grow_and_then_no_more(letter, by_server):
    with MailServer() as gone:
        by_server(gone)
    at, waits = NOW, []
    while (row := fresh(letter)).state == "waiting":
        assert send_letter(letter.pk, now=at - SECOND) == "gone", "not before its time"
        send_letter(letter.pk, now=at)
        row = fresh(letter)
        waits.append(row.next_try_at and row.next_try_at - at)
        at = row.next_try_at or at
    assert waits == [*PAUSES, None] and row.state == "not_sent" and row.tries == len(PAUSES) + 1
    assert not SummaryLink.objects.filter(contact=letter.contact).exists(), "it never left, so no link was made"


@pytest.mark.parametrize("step", ["MAIL", "RCPT", "DATA", "END"])
def test_a_server_that_says_later_is_tried_again_with_another_link(letter, by_server, step):
    with MailServer({step: "451 try later"}) as server:
        by_server(server)
        assert send_letter(letter.pk, now=NOW) == "waiting"
    row = fresh(letter)
    assert (row.next_try_at, row.tries, row.link) == (NOW + PAUSES[0], 1, None)
    assert SummaryLink.objects.get(contact=letter.contact).revoked_at == NOW, "nobody has it"
    with MailServer() as server:
        by_server(server)
        assert send_letter(letter.pk, now=row.next_try_at) == "sent"
    assert SummaryLink.objects.filter(contact=letter.contact, revoked_at=None).count() == 1 == len(server.taken)


def test_an_address_that_is_refused_is_said_to_the_coach_and_gets_no_more(cast, contact, letter, by_server, caplog):
    with MailServer({"RCPT": f"550 <{ADDRESS}>: no such mailbox"}) as server:
        by_server(server)
        assert send_letter(letter.pk, now=NOW) == "refused"
    contact.refresh_from_db()
    assert (contact.no_mail_since, contact.no_mail_why) == (NOW, "refused") and server.taken == []
    page = page_of(cast.as_coach.get(reverse("family_member", args=[cast.member_a.pk])))
    assert "was refused: this address may be mistyped" in page and "refused it: it may be mistyped, or gone" in page
    assert ADDRESS not in caplog.text


@pytest.mark.parametrize("step", ["MAIL", "DATA", "END"])
def test_a_server_that_says_never_is_not_asked_again(contact, letter, by_server, step):
    with MailServer({step: "554 not from here"}) as server:
        by_server(server)
        assert send_letter(letter.pk, now=NOW) == "not_sent"
    contact.refresh_from_db()
    assert contact.no_mail_since is None, "that is no fault of the address"


def test_a_line_that_breaks_at_the_end_is_never_tried_again(cast, letter, by_server):
    """The server had it all: it may have gone out."""
    with MailServer({"END": "hang up"}) as server:
        by_server(server)
        assert send_letter(letter.pk, now=NOW) == "unsure"
    assert len(server.taken) == 1 and not due_letters(NOW + dt.timedelta(days=9)).exists()
    page = page_of(cast.as_coach.get(reverse("family_member", args=[cast.member_a.pk])))
    assert "may have arrived or not" in page


def test_a_child_that_is_erased_takes_its_letters_along(cast, letter):
    erase_child(cast.member_a, cast.coach, now=NOW)
    assert send_letter(letter.pk, now=NOW) == "gone" and not FamilyLetter.objects.exists() and mail.outbox == []


# No more e-mail


def stop_path(letter) -> str:
    send_letter(letter.pk, now=NOW)
    return reverse("family_no_mail", args=[STOP.search(mail.outbox[0].body)[1]])


def test_looking_at_the_address_changes_nothing_and_shows_a_button(contact, letter):
    path = stop_path(letter)
    for ask in (Client().get, Client().head):
        answer = ask(path)
        assert (
            answer.status_code == 200
            and answer["Referrer-Policy"] == "no-referrer"
            and "no-store" in answer["Cache-Control"]
        )
    contact.refresh_from_db()
    assert contact.no_mail_since is None and "<button" in page_of(Client().get(path))


def test_one_press_without_a_cookie_ends_e_mail_and_nothing_else(cast, contact, letter):
    """RFC 8058, 3.2: the body is ``List-Unsubscribe=One-Click``, no cookies, no other page before it."""
    path, client = stop_path(letter), Client(enforce_csrf_checks=True)
    body = "List-Unsubscribe=One-Click"
    answers = [client.post(path, body, content_type="application/x-www-form-urlencoded") for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]
    contact.refresh_from_db()
    assert contact.no_mail_why == "unsubscribed" and contact.email == ADDRESS and contact.withdrawn_at is None
    assert open_link(TOKEN.search(mail.outbox[0].body)[1], now=NOW) is not None
    page = page_of(cast.as_coach.get(reverse("family_member", args=[cast.member_a.pk])))
    assert "The family asked for no more e-mail." in page and "Make a link and e-mail it" not in page


def test_it_ends_a_letter_that_waits(cast, contact, letter):
    stop_path(letter)
    waits = write_letter(contact, cast.coach, now=NOW)
    assert stop_mail(STOP.search(mail.outbox[0].body)[1], now=NOW) and fresh(waits).state == "not_sent"


def test_guessed_tokens_get_one_answer_and_are_slowed(db):
    pages = [Client().post(reverse("family_no_mail", args=[f"{n:0>43}"])) for n in range(25)]
    said = {(page.status_code, page_of(page).partition("<main")[2]) for page in pages}
    assert len(said) == 1 and next(iter(said))[0] == 404


# The coach's pages


def test_a_coach_asks_for_one_and_reads_how_it_went(cast, contact):
    url, page = reverse("family_letter", args=[contact.pk]), reverse("family_member", args=[cast.member_a.pk])
    cast.as_coach.post(url)
    assert "An e-mail waits to leave" in page_of(cast.as_coach.get(page))
    assert "on its way already" in page_of(cast.as_coach.post(url, follow=True))
    send_letter(FamilyLetter.objects.get().pk, now=dt.datetime.now(dt.UTC))
    said = page_of(cast.as_coach.get(page))
    assert "E-mailed on" in said and "with link B" in said
    cast.as_coach.post(reverse("family_came_back", args=[contact.pk]))
    assert "An e-mail to this address came back." in page_of(cast.as_coach.get(page))


def test_all_at_once_are_counted_on_the_button(cast, contact):
    assert "E-mail a new link to families that agreed (1)" in page_of(cast.as_coach.get(reverse("families")))
    assert "E-mails asked for: 1." in page_of(cast.as_coach.post(reverse("family_letters"), follow=True))
    assert "families that agreed" not in page_of(cast.as_coach.get(reverse("families")))
    assert "is waiting for one" in page_of(cast.as_coach.post(reverse("family_letters"), follow=True))
