"""Which language a page speaks: each asker's own choice, else the club's, else the browser's.

Nobody is asked for more than a language: it is kept where it is needed to write to somebody, and nowhere else.
"""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest
from django.utils import translation
from django.utils.translation.trans_real import get_language_from_request

from classroom.access import coach_or_none, family_link_or_none, tablet_or_none
from classroom.models import Club, Coach, GuardianContact, Member, SummaryLink, TabletSession

#: In an address: the language in which whoever is not known yet wants to read.
ASKED = "in"
NAMES: dict[str, str] = dict(settings.LANGUAGES)


def known_language(code: str | None) -> str:
    """The language of ours that a code means, such as ``en-gb`` for ``en``; empty for any other.

    >>> known_language("en"), known_language("de-AT"), known_language("cy"), known_language(None)
    ('en-gb', 'de', '', '')
    """
    try:
        return translation.get_supported_language_variant(code or "")
    except LookupError:
        return ""


def _first(*codes: str | None) -> str:
    return next((found for code in codes if (found := known_language(code))), settings.LANGUAGE_CODE)


def language_of_club(club: Club) -> str:
    return _first(club.locale)


def language_of_family(member: Member) -> str:
    """Of a child's page, of drafts for it and of what is handed out on paper."""
    return _first(member.family_language, member.club.locale)


def language_of_contact(contact: GuardianContact) -> str:
    """Of e-mails to one guardian, whose child and club are at hand."""
    return _first(contact.language, contact.member.family_language, contact.member.club.locale)


def language_of_link(link: SummaryLink) -> str:
    """What this link's guardian chose on the page; else what the coach set for the guardian, or for the family."""
    contact = link.contact.language if link.contact else None
    return _first(link.language, contact, link.member.family_language, link.member.club.locale)


def language_of_coach(coach: Coach) -> str:
    """What a coach has chosen for themselves, in whichever club; else the club's."""
    return _first(coach.user.language, coach.club.locale)


def language_of_tablet(tablet: TabletSession) -> str:
    return _first(tablet.language, tablet.team.club.locale)


def language_asked(request: HttpRequest) -> str:
    """Of somebody who is not known: what the address says, else the browser's own languages."""
    return known_language(request.GET.get(ASKED)) or get_language_from_request(request)


def language_of_request(request: HttpRequest) -> str:
    """Costs no query beyond the one that says who asks."""
    if coach := coach_or_none(request):
        return language_of_coach(coach)
    if tablet := tablet_or_none(request):
        return language_of_tablet(tablet)
    if link := family_link_or_none(request):
        return language_of_link(link)
    return language_asked(request)
