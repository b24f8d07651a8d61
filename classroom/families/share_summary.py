"""A family's way to one child's summary: the link (its digest is kept, the token shown once), the contact, the words."""

from __future__ import annotations

import datetime as dt
import secrets

from django.conf import settings
from django.db import transaction

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.models import Coach, GuardianContact, Member, SummaryLink, SummaryWords
from classroom.people.services.send_link import send_link
from classroom.site.clash.mark import mark_of, refuse_changed
from classroom.site.tokens import digest_of

TOKEN_BYTES = 32
#: Which notice a guardian agreed to; a new text gets a new name.
NOTICE = "family summary 2026-11"


@transaction.atomic
def make_link(
    member: Member, coach: Coach, *, now: dt.datetime, contact: GuardianContact | None = None
) -> tuple[SummaryLink, str]:
    """A new link and its token, which is shown once.

    Raises
    ------
    InputError
        ``other_child``: the contact is another child's.
    """
    if contact is not None and contact.member_id != member.pk:
        raise InputError(ClassroomCode.OTHER_CHILD, "This contact belongs to another child.")
    token = secrets.token_urlsafe(TOKEN_BYTES)
    link = SummaryLink.objects.create(
        member=member,
        contact=contact,
        token_digest=digest_of(token),
        created_by=coach,
        created_at=now,
        expires_at=now + dt.timedelta(days=settings.HELMROOM_LINK_DAYS),
    )
    note_in_audit(member.club, coach, "made family link", f"link:{link.pk}", now=now)
    return link, token


def mail_link(link: SummaryLink, address: str) -> bool:
    """E-mail a new link to its contact, without the child's name or anything of the summary; whether it went out."""
    if link.contact is None or not link.contact.email:
        return False
    return send_link(
        link.contact.email,
        f"{link.member.club.name}: a summary for your family",
        f"Your club has a summary of the term for your family. This link opens it until {link.expires_at:%d %B %Y}:",
        address,
        "The link is yours alone: whoever has it can read the summary. Ask the club's coach to end it at any time.",
    )


@transaction.atomic
def replace_link(link: SummaryLink, coach: Coach, *, now: dt.datetime) -> tuple[SummaryLink, str]:
    """The old address stops working at once; the new one is shown once."""
    revoke_link(link, coach, now=now)
    return make_link(link.member, coach, now=now, contact=link.contact)


@transaction.atomic
def revoke_link(link: SummaryLink, coach: Coach, *, now: dt.datetime) -> None:
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

    Raises
    ------
    InputError
        ``no_consent``.
    ConflictError
        ``there_already``.
    """
    if not consented:
        raise InputError(ClassroomCode.NO_CONSENT, "Ask the guardian first; without their consent no address is kept.")
    if email and GuardianContact.objects.filter(member=member, email=email).exists():
        raise ConflictError(ClassroomCode.THERE_ALREADY, "This address is there already.")
    contact = GuardianContact.objects.create(
        member=member,
        email=email,
        language=language,
        consent_notice=NOTICE,
        consented_at=now,
        consent_recorded_by=coach,
    )
    note_in_audit(member.club, coach, "recorded consent", f"member:{member.pk}", now=now)
    return contact


@transaction.atomic
def withdraw_consent(contact: GuardianContact, coach: Coach, *, now: dt.datetime) -> None:
    """The address is wiped, its links are revoked; that there was a consent and when it ended stays on record."""
    contact.email, contact.withdrawn_at = "", now
    contact.save(update_fields=["email", "withdrawn_at"])
    for link in SummaryLink.objects.filter(contact=contact, revoked_at=None).select_related("member__club"):
        revoke_link(link, coach, now=now)
    note_in_audit(contact.member.club, coach, "withdrew consent", f"member:{contact.member_id}", now=now)


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
    seen: str | None = None,
    now: dt.datetime,
) -> SummaryWords:
    """A new version of a coach's three sentences. Families see the newest approved one.

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
        written_at=now,
        approved_by=coach if approve else None,
        approved_at=now if approve else None,
    )
    verb = "approved summary" if approve else "drafted summary"
    note_in_audit(member.club, coach, verb, f"member:{member.pk}", now=now)
    return words


def approved_words(member: Member) -> SummaryWords | None:
    return SummaryWords.objects.filter(member=member).exclude(approved_at=None).order_by("-approved_at", "-pk").first()
