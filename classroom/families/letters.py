"""E-mails to guardians: asked for by a coach, handed to the mail server by a job, tried again after pauses, never sent twice.

An e-mail carries a link and nothing of the child. It goes only to an address whose consent stands. Its link and the
token by which the family asks for no more are made in the moment in which it leaves, so that no row of a job, no log and
no subject ever holds one: only their digests are kept.

Sources: RFC 5321, 4.2.1 (replies 4yz may be tried again, 5yz not) and 4.5.4.1 (pauses between tries); RFC 2369
(List-Unsubscribe); RFC 8058, 3.1 and 3.2 (one press, by POST, over HTTPS, without cookies). All from memory.
"""

from __future__ import annotations

import datetime as dt
import logging
import secrets
import smtplib
from dataclasses import dataclass

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.families.share_summary import TOKEN_BYTES, end_waiting_letters, make_link, revoke_link
from classroom.families.slips import members_now
from classroom.models import Club, Coach, FamilyLetter, GuardianContact, LetterState, NoMail
from classroom.site.isolated import isolated
from classroom.site.languages import language_of_contact
from classroom.site.tokens import digest_of

log = logging.getLogger("helmroom.letters")

#: Before the second try and those after it. A server that cannot be reached for longer is a coach's matter.
PAUSES = (
    dt.timedelta(minutes=5),
    dt.timedelta(minutes=30),
    dt.timedelta(hours=2),
    dt.timedelta(hours=6),
    dt.timedelta(hours=24),
)
#: Handed over for so long, a letter's worker has died over it: nobody knows whether the server took it.
LOST_AFTER = dt.timedelta(minutes=15)

#: What mail servers' answers to a hand-over come to.
_TAKEN, _LATER, _NEVER, _WRONG_ADDRESS, _UNKNOWN = "taken", "later", "never", "wrong_address", "unknown"


@dataclass(frozen=True)
class Leaving:
    """A letter that is marked as leaving, and the two tokens that stand in it and nowhere else."""

    letter: FamilyLetter
    token: str
    stop_token: str


@transaction.atomic
def write_letter(contact: GuardianContact, coach: Coach, *, now: dt.datetime) -> FamilyLetter:
    """Ask for an e-mail with a new link. It leaves when the worker next looks, and how it went stands in its row.

    Raises
    ------
    InputError
        ``no_mail``: no address, no consent that stands, or something has stopped e-mail to it.
    ConflictError
        ``letter_underway``: one to this address has not left yet.
    """
    contact = GuardianContact.objects.select_for_update(of=("self",)).select_related("member__club").get(pk=contact.pk)
    if not contact.may_have_mail:
        words = _(
            "No e-mail goes to this address. Ask the guardian first and record the consent; a slip can be handed out at any time."
        )
        raise InputError(ClassroomCode.NO_MAIL, words)
    try:
        with transaction.atomic():
            letter = FamilyLetter.objects.create(
                member=contact.member, contact=contact, asked_by=coach, asked_at=now, next_try_at=now
            )
    except IntegrityError as error:
        words = _("An e-mail to this address is on its way already. Look again in a minute.")
        raise ConflictError(ClassroomCode.LETTER_UNDERWAY, words) from error
    note_in_audit(contact.member.club, coach, "asked for a family's e-mail", f"member:{contact.member_id}", now=now)
    return letter


def may_be_written_to(club: Club) -> QuerySet[GuardianContact]:
    """The club's contacts that may have an e-mail now: of children in a team, with none underway."""
    here = members_now(club).order_by().values("member")
    rows = GuardianContact.objects.filter(member__in=here, no_mail_since=None, withdrawn_at=None)
    underway = FamilyLetter.objects.filter(state__in=[LetterState.WAITING, LetterState.LEAVING])
    rows = rows.exclude(email="").exclude(consented_at=None).exclude(pk__in=underway.values("contact"))
    return rows.select_related("member__club").order_by("pk")


@transaction.atomic
def write_letters(coach: Coach, *, now: dt.datetime) -> int:
    """One to every family of the club that agreed; how many."""
    contacts = list(may_be_written_to(coach.club))
    for contact in contacts:
        write_letter(contact, coach, now=now)
    return len(contacts)


def due_letters(now: dt.datetime) -> QuerySet[FamilyLetter]:
    rows = FamilyLetter.objects.filter(state=LetterState.WAITING, next_try_at__lte=now)
    return rows.select_related("member__club").order_by("next_try_at", "pk")


def mark_lost_letters(now: dt.datetime) -> int:
    """What a worker was handing over when it ended is never tried again: it may have arrived."""
    lost = FamilyLetter.objects.filter(state=LetterState.LEAVING, left_at__lt=now - LOST_AFTER)
    return lost.update(state=LetterState.UNSURE)


def send_letter(pk: int, *, now: dt.datetime) -> str:
    """Hand a letter over if it is due, and write down what came of it. Its state then, or "gone" when there is no such.

    A server that cannot be reached has been told nothing yet: that is found out before the letter is marked as leaving.
    """
    letter = due_letters(now).filter(pk=pk).first()
    if letter is None:
        return "gone"
    try:
        server = get_connection(fail_silently=False)
        server.open()
    except (
        Exception
    ) as error:  # whatever a mail back end raises: its words may hold an address, so only its kind is told
        log.warning("The mail server cannot be reached (%s); letter %s waits.", type(error).__name__, pk)
        return _put_off(letter, now)
    try:
        leaving = _take(pk, now)
        if leaving is None:
            return "gone"
        return _conclude(leaving, _hand_over(server, leaving), now)
    finally:
        server.close()


@transaction.atomic
def _take(pk: int, now: dt.datetime) -> Leaving | None:
    """Mark it as leaving, with its link; None when another was quicker or the family has changed its mind."""
    letter = due_letters(now).select_for_update(of=("self",)).filter(pk=pk).first()
    if letter is None:
        return None
    contact = GuardianContact.objects.select_for_update(of=("self",)).get(pk=letter.contact_id)
    if not contact.may_have_mail:
        end_waiting_letters(contact)
        return None
    link, token = make_link(letter.member, letter.asked_by, contact=contact, now=now)
    stop_token = secrets.token_urlsafe(TOKEN_BYTES)
    letter.link, letter.stop_digest = link, digest_of(stop_token)
    letter.state, letter.left_at, letter.next_try_at = LetterState.LEAVING, now, None
    letter.tries += 1
    letter.contact = contact
    letter.save()
    return Leaving(letter, token, stop_token)


def letter_message(leaving: Leaving) -> EmailMessage:
    """Nothing of the child and nobody's name in it: whose it is, only the link's page says, after a press."""
    letter, site = leaving.letter, settings.HELMROOM_ADDRESS.rstrip("/")
    assert letter.link is not None
    address = site + reverse("family_door", args=[leaving.token])
    stop = site + reverse("family_no_mail", args=[leaving.stop_token])
    with translation.override(language_of_contact(letter.contact)):
        subject, body = _letter_words(
            letter.member.club.name, address, stop, timezone.localtime(letter.link.expires_at)
        )
    # A program presses it only over HTTPS (RFC 8058, 3.1); without, the address in the text is all there is.
    headers = (
        {"List-Unsubscribe": f"<{stop}>", "List-Unsubscribe-Post": "List-Unsubscribe=One-Click"}
        if stop.startswith("https://")
        else {}
    )
    return EmailMessage(
        subject=subject,
        body=body,
        to=[letter.contact.email],
        headers=headers,
    )


def _letter_words(club: str, address: str, stop: str, ends: dt.datetime) -> tuple[str, str]:
    """Subject and body in the language that is active."""
    paragraphs = (
        _("Your club, %(club)s, has a summary of the term for your family. This link opens it until %(day)s:")
        % {"club": isolated(club), "day": date_format(ends, "DATE_FORMAT")},
        address,
        _("The link is yours alone: whoever has it can read the summary. Ask the club's coach to end it at any time."),
        _(
            "You have this e-mail because you agreed to it. If you want no more, open this address and press the button:"
        ),
        stop,
    )
    return _("%(club)s: a summary for your family") % {"club": isolated(club)}, "\n\n".join(paragraphs) + "\n"


def _hand_over(server: BaseEmailBackend, leaving: Leaving) -> str:
    """What the server's answer comes to. Its words are not kept: they repeat the address."""
    try:
        server.send_messages([letter_message(leaving)])
    except smtplib.SMTPRecipientsRefused as error:
        codes = [code for code, _ in error.recipients.values()]
        return _WRONG_ADDRESS if codes and min(codes) >= 500 else _LATER
    except smtplib.SMTPResponseException as error:
        return _NEVER if error.smtp_code >= 500 else _LATER
    except Exception as error:  # the line broke in the middle: it may have been taken
        log.warning("Letter %s may have left or not (%s).", leaving.letter.pk, type(error).__name__)
        return _UNKNOWN
    return _TAKEN


@transaction.atomic
def _conclude(leaving: Leaving, answer: str, now: dt.datetime) -> str:
    """What the answer means for letter, link and address."""
    rows = FamilyLetter.objects.select_for_update(of=("self",)).filter(pk=leaving.letter.pk, state=LetterState.LEAVING)
    letter = rows.select_related("contact", "link__member__club", "member__club").first()
    if letter is None:
        return "gone"  # the child was erased meanwhile
    if answer in (_LATER, _NEVER, _WRONG_ADDRESS) and letter.link is not None:
        revoke_link(letter.link, None, now=now)  # nobody has it
        letter.link = None
    if answer == _LATER:
        letter.save(update_fields=["link"])
        return _put_off(letter, now)
    if answer == _TAKEN:
        letter.state, letter.sent_at = LetterState.SENT, now
        note_in_audit(letter.member.club, None, "sent a family's e-mail", f"member:{letter.member_id}", now=now)
    elif answer == _WRONG_ADDRESS:
        letter.state = LetterState.REFUSED
        _stop(letter.contact, NoMail.REFUSED, now)
    else:
        letter.state = LetterState.UNSURE if answer == _UNKNOWN else LetterState.NOT_SENT
    letter.save(update_fields=["state", "sent_at", "link"])
    log.info("Letter %s: %s.", letter.pk, letter.state)
    return str(letter.state)


def _put_off(letter: FamilyLetter, now: dt.datetime) -> str:
    """To the next try, after a pause that grows; after the last, not sent."""
    tries = letter.tries if letter.state == LetterState.LEAVING else letter.tries + 1
    over = tries > len(PAUSES)
    rows = FamilyLetter.objects.filter(pk=letter.pk, state=letter.state, tries=letter.tries)
    rows.update(
        state=LetterState.NOT_SENT if over else LetterState.WAITING,
        tries=tries,
        next_try_at=None if over else now + PAUSES[tries - 1],
        left_at=None,
    )
    return str(LetterState.NOT_SENT if over else LetterState.WAITING)


@transaction.atomic
def stop_mail(token: str, *, now: dt.datetime) -> bool:
    """A family asks for no more e-mail; False when no e-mail of ours carries such a token. Asking twice is no harm.

    Its page stays as it is, and so does its link.
    """
    letter = FamilyLetter.objects.select_related("contact", "member__club").filter(stop_digest=digest_of(token)).first()
    if letter is None:
        return False
    if letter.contact.no_mail_since is None:
        _stop(letter.contact, NoMail.UNSUBSCRIBED, now)
        note_in_audit(letter.member.club, "a family", "asked for no more e-mail", f"member:{letter.member_id}", now=now)
    return True


@transaction.atomic
def mail_came_back(contact: GuardianContact, coach: Coach, *, now: dt.datetime) -> None:
    """A coach has found an e-mail to it among what came back to the club's own address: none goes there any more."""
    if contact.no_mail_since is None:
        _stop(contact, NoMail.CAME_BACK, now)
        note_in_audit(contact.member.club, coach, "said that e-mail came back", f"member:{contact.member_id}", now=now)


def _stop(contact: GuardianContact, why: NoMail, now: dt.datetime) -> None:
    contact.no_mail_since, contact.no_mail_why = now, why
    contact.save(update_fields=["no_mail_since", "no_mail_why"])
    end_waiting_letters(contact)
