"""A family's way to one child's summary: the link (its digest is kept, the token shown once), the contact, the words."""

from __future__ import annotations

import base64
import datetime as dt
import hmac
import secrets

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.models import Coach, FamilyLetter, GuardianContact, LetterState, Member, SummaryLink, SummaryWords
from classroom.site.clash.mark import mark_of, refuse_changed
from classroom.site.languages import known_language, language_of_family
from classroom.site.tokens import digest_of

TOKEN_BYTES = 32
#: A link opens a child's page for so many days at most.
LONGEST_LINK_DAYS = 366
#: Which notice a guardian agreed to; a new text gets a new name.
NOTICE = "family summary 2026-11"


def new_seed() -> str:
    """256 random bits, from which the tokens of one batch of slips are made."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def token_of(seed: str, member: Member) -> str:
    """A child's token in a batch: 256 bits that nobody can make without the seed (HMAC-SHA256, RFC 2104).

    So a coach's browser holds one seed for the minutes in which slips are printed, however many there are.
    """
    made = hmac.digest(seed.encode(), f"family link of member {member.pk}".encode(), "sha256")
    return base64.urlsafe_b64encode(made).rstrip(b"=").decode()


def next_letter(last: str) -> str:
    """
    >>> next_letter(""), next_letter("A"), next_letter("Z"), next_letter("AZ"), next_letter("ZZZ")
    ('A', 'B', 'AA', 'BA', 'A')
    """
    if not last or (len(last) == 3 and last == "ZZZ"):
        return "A"
    head, tail = last[:-1], last[-1]
    return head + chr(ord(tail) + 1) if tail != "Z" else (next_letter(head) + "A")


@transaction.atomic
def make_link(
    member: Member,
    coach: Coach | None,
    *,
    now: dt.datetime,
    contact: GuardianContact | None = None,
    seed: str | None = None,
    ends_at: dt.datetime | None = None,
) -> tuple[SummaryLink, str]:
    """A new link and its token, which is kept nowhere here.

    Parameters
    ----------
    seed
        Of a batch of slips: the token is then :func:`token_of` the seed and the child.
    ends_at
        When it opens nothing any more; by default after ``HELMROOM_LINK_DAYS``.

    Raises
    ------
    InputError
        ``other_child``: the contact is another child's. ``link_end``: it would end in the past, or in over a year.
    """
    if contact is not None and contact.member_id != member.pk:
        raise InputError(ClassroomCode.OTHER_CHILD, _("This contact belongs to another child."))
    expires_at = ends_at or now + dt.timedelta(days=settings.HELMROOM_LINK_DAYS)
    if not now < expires_at <= now + dt.timedelta(days=LONGEST_LINK_DAYS):
        words = _("A link ends between tomorrow and a year from now: give another day.")
        raise InputError(ClassroomCode.LINK_END, words)
    token = token_of(seed or new_seed(), member)
    Member.objects.select_for_update(of=("self",)).get(pk=member.pk)  # one letter after the other
    before = SummaryLink.objects.filter(member=member).order_by("-pk").values_list("letter", flat=True).first()
    link = SummaryLink.objects.create(
        member=member,
        contact=contact,
        letter=next_letter(before or ""),
        token_digest=digest_of(token),
        created_by=coach,
        created_at=now,
        expires_at=expires_at,
    )
    note_in_audit(member.club, coach, "made family link", f"link:{link.pk}", now=now)
    return link, token


@transaction.atomic
def replace_link(
    link: SummaryLink, coach: Coach, *, now: dt.datetime, seed: str | None = None
) -> tuple[SummaryLink, str]:
    """The old address stops working at once."""
    revoke_link(link, coach, now=now)
    return make_link(link.member, coach, now=now, contact=link.contact, seed=seed)


@transaction.atomic
def revoke_link(link: SummaryLink, coach: Coach | None, *, now: dt.datetime) -> None:
    """Whoever is looking through it is shut out at their next request."""
    if link.revoked_at is None:
        link.revoked_at = now
        link.save(update_fields=["revoked_at"])
        note_in_audit(link.member.club, coach, "revoked family link", f"link:{link.pk}", now=now)


@transaction.atomic
def open_link(token: str, *, now: dt.datetime) -> SummaryLink | None:
    """The link that a token opens; None alike when it is unknown, expired or revoked."""
    link = (
        SummaryLink.objects.select_related("member__club")
        .filter(token_digest=digest_of(token), revoked_at=None, expires_at__gt=now)
        .first()
    )
    if link is not None:
        SummaryLink.objects.filter(pk=link.pk).update(last_opened_at=now)
        note_in_audit(link.member.club, link, "opened summary", f"member:{link.member_id}", now=now)
    return link


@transaction.atomic
def keep_contact(
    member: Member, coach: Coach, *, email: str, language: str, consented: bool, now: dt.datetime
) -> GuardianContact:
    """An e-mail address is kept only with a record of consent: which notice, when, recorded by whom.

    An address to which no e-mail went any more may have some again: this consent takes the place of the earlier one.

    Raises
    ------
    InputError
        ``no_consent``.
    ConflictError
        ``there_already``.
    """
    if not consented:
        raise InputError(
            ClassroomCode.NO_CONSENT, _("Ask the guardian first; without their consent no address is kept.")
        )
    had = GuardianContact.objects.filter(member=member, email=email).first() if email else None
    if had is not None and had.no_mail_since is None:
        raise ConflictError(ClassroomCode.THERE_ALREADY, _("This address is there already."))
    contact = had or GuardianContact(member=member, email=email)
    contact.language, contact.consent_notice = language, NOTICE
    contact.consented_at, contact.consent_recorded_by = now, coach
    contact.no_mail_since, contact.no_mail_why = None, ""
    contact.save()
    note_in_audit(member.club, coach, "recorded consent", f"member:{member.pk}", now=now)
    return contact


@transaction.atomic
def withdraw_consent(contact: GuardianContact, coach: Coach, *, now: dt.datetime) -> None:
    """The address is wiped, its links are revoked; that there was a consent and when it ended stays on record."""
    contact.email, contact.withdrawn_at = "", now
    contact.save(update_fields=["email", "withdrawn_at"])
    end_waiting_letters(contact)
    for link in SummaryLink.objects.filter(contact=contact, revoked_at=None).select_related("member__club"):
        revoke_link(link, coach, now=now)
    note_in_audit(contact.member.club, coach, "withdrew consent", f"member:{contact.member_id}", now=now)


@transaction.atomic
def set_family_language(member: Member, coach: Coach, language: str, *, now: dt.datetime) -> None:
    """Of a child's page, its slips and the drafts for it; empty: the club's. Guardians may choose another on the page."""
    member.family_language = known_language(language)
    member.save(update_fields=["family_language"])
    note_in_audit(member.club, coach, "set a family's language", f"member:{member.pk}", now=now)


@transaction.atomic
def choose_language(link: SummaryLink, language: str) -> None:
    """The guardian's own choice, for this link and for e-mails to them; a language that is none of ours changes nothing."""
    found = known_language(language)
    if not found:
        return
    SummaryLink.objects.filter(pk=link.pk).update(language=found)
    if link.contact_id is not None:
        GuardianContact.objects.filter(pk=link.contact_id).update(language=found)


def end_waiting_letters(contact: GuardianContact) -> None:
    """What has not been handed over yet stays here."""
    waiting = FamilyLetter.objects.filter(contact=contact, state=LetterState.WAITING)
    waiting.update(state=LetterState.NOT_SENT, next_try_at=None)


def words_mark(member: Member) -> str:
    """Of the newest version of a child's three sentences, approved or not."""
    return mark_of(SummaryWords.objects.filter(member=member).order_by("-pk").values_list("pk", flat=True).first())


@transaction.atomic
def write_words(
    member: Member,
    coach: Coach,
    *,
    learnt: str,
    working_on: str,
    ask_at_home: str,
    approve: bool,
    language: str = "",
    seen: str | None = None,
    now: dt.datetime,
) -> SummaryWords:
    """A new version of a coach's three sentences. Families see the newest approved one, in the language it was written in.

    Raises
    ------
    ConflictError
        ``changed_meanwhile``: there is a newer version than the one that was ``seen``.
    """
    member = Member.objects.select_for_update(of=("self",)).select_related("club").get(pk=member.pk)
    verbs = ("approved summary", "drafted summary")
    refuse_changed(seen, words_mark(member), member.club, f"member:{member.pk}", verbs)
    words = SummaryWords.objects.create(
        member=member,
        learnt=learnt,
        working_on=working_on,
        ask_at_home=ask_at_home,
        language=known_language(language) or language_of_family(member),
        written_at=now,
        approved_by=coach if approve else None,
        approved_at=now if approve else None,
    )
    verb = "approved summary" if approve else "drafted summary"
    note_in_audit(member.club, coach, verb, f"member:{member.pk}", now=now)
    return words


def approved_words(member: Member) -> SummaryWords | None:
    return next(iter(approved_versions(member, most=1)), None)


def approved_versions(member: Member, *, most: int) -> list[SummaryWords]:
    """What a family has been shown, the newest first."""
    rows = SummaryWords.objects.filter(member=member).exclude(approved_at=None)
    return list(rows.order_by("-approved_at", "-pk")[:most])
