"""What the club keeps, told from the list that the program itself goes by (``records/kept.py``)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.apps import apps
from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.models import Club, Coach
from classroom.records.kept import KEPT, Kept, Of


@dataclass(frozen=True)
class KeptLine:
    """A record in words; ``fields`` are what is written down of each."""

    kept: Kept
    fields: str
    until: str


@dataclass(frozen=True)
class KeptGroup:
    of: Of
    heading: str
    lines: tuple[KeptLine, ...]


HEADINGS = {
    Of.CHILD: gettext_noop("About a child"),
    Of.FAMILY: gettext_noop("About a child's family"),
    Of.TEAM: gettext_noop("About a team"),
    Of.COACH: gettext_noop("About a coach"),
    Of.DOOR: gettext_noop("About whoever comes to the door"),
    Of.CLUB: gettext_noop("About the club and its things"),
}
#: What is written down of a child or its family, field by field, in a reader's words.
FIELDS_OF_A_CHILD = {
    "club": gettext_noop("club"),
    "nickname": gettext_noop("first name or nickname"),
    "family_language": gettext_noop("language of the family's page"),
    "member": gettext_noop("child"),
    "team": gettext_noop("team"),
    "joined_on": gettext_noop("joined on"),
    "left_on": gettext_noop("left on"),
    "session": gettext_noop("session"),
    "present": gettext_noop("present"),
    "slot": gettext_noop("slot"),
    "job": gettext_noop("job"),
    "email": gettext_noop("email"),
    "language": gettext_noop("language"),
    "consent_notice": gettext_noop("consent notice"),
    "consented_at": gettext_noop("consented at"),
    "consent_recorded_by": gettext_noop("consent recorded by"),
    "withdrawn_at": gettext_noop("consent withdrawn on"),
    "no_mail_since": gettext_noop("no mail since"),
    "no_mail_why": gettext_noop("no mail why"),
    "contact": gettext_noop("contact"),
    "letter": gettext_noop("letter"),
    "token_digest": gettext_noop("token digest"),
    "created_by": gettext_noop("created by"),
    "created_at": gettext_noop("created at"),
    "expires_at": gettext_noop("expires at"),
    "revoked_at": gettext_noop("ended on"),
    "last_opened_at": gettext_noop("last opened at"),
    "link": gettext_noop("link"),
    "state": gettext_noop("state"),
    "asked_by": gettext_noop("asked by"),
    "asked_at": gettext_noop("asked at"),
    "tries": gettext_noop("tries"),
    "next_try_at": gettext_noop("next try at"),
    "left_at": gettext_noop("left at"),
    "sent_at": gettext_noop("sent at"),
    "stop_digest": gettext_noop("stop digest"),
    "learnt": gettext_noop("one thing learnt"),
    "working_on": gettext_noop("one thing being worked on"),
    "ask_at_home": gettext_noop("one question to ask at home"),
    "written_at": gettext_noop("written at"),
    "approved_by": gettext_noop("approved by"),
    "approved_at": gettext_noop("approved at"),
}


def kept_groups(club: Club) -> list[KeptGroup]:
    """Every record of the program, the children's first."""
    return [
        KeptGroup(of, _(heading), tuple(_line(label, kept, club) for label, kept in KEPT.items() if kept.of is of))
        for of, heading in HEADINGS.items()
    ]


def _line(label: str, kept: Kept, club: Club) -> KeptLine:
    named = [f for f in apps.get_model(label)._meta.concrete_fields if not f.primary_key]
    fields = [_(FIELDS_OF_A_CHILD.get(f.name, str(f.verbose_name))) for f in named]
    return KeptLine(kept.said(), ", ".join(fields), _(kept.until).format(days=club.retention_days))


def whom_to_ask(club: Club) -> list[Coach]:
    return list(Coach.objects.select_related("user").filter(club=club, role="lead", left_at=None).order_by("pk"))


def where_it_lies() -> str:
    if settings.HELMROOM_MODE == "server":
        return _("In the database of the server that this page comes from.")
    return _(
        "On the club's own computer that this page comes from, in helmroom's data folder, which only its owner can read."
    )


def one_or_another(names: Sequence[str]) -> str:
    """ "Avocet or Dunlin": any of them may be asked."""
    either = names[0] if names else ""
    for name in names[1:]:
        either = _("%(names)s or %(name)s") % {"names": either, "name": name}
    return either
