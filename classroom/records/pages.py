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
#: What is written down of a child or its family, as the models' fields are called; tested to be all of them.
FIELDS_OF_A_CHILD = (
    gettext_noop("club"),
    gettext_noop("first name or nickname"),
    gettext_noop("language of the family's page"),
    gettext_noop("member"),
    gettext_noop("team"),
    gettext_noop("joined on"),
    gettext_noop("left on"),
    gettext_noop("session"),
    gettext_noop("present"),
    gettext_noop("slot"),
    gettext_noop("job"),
    gettext_noop("email"),
    gettext_noop("language"),
    gettext_noop("consent notice"),
    gettext_noop("consented at"),
    gettext_noop("consent recorded by"),
    gettext_noop("withdrawn at"),
    gettext_noop("no mail since"),
    gettext_noop("no mail why"),
    gettext_noop("contact"),
    gettext_noop("letter"),
    gettext_noop("token digest"),
    gettext_noop("created by"),
    gettext_noop("created at"),
    gettext_noop("expires at"),
    gettext_noop("revoked at"),
    gettext_noop("last opened at"),
    gettext_noop("language chosen on the page"),
    gettext_noop("link"),
    gettext_noop("state"),
    gettext_noop("asked by"),
    gettext_noop("asked at"),
    gettext_noop("tries"),
    gettext_noop("next try at"),
    gettext_noop("left at"),
    gettext_noop("sent at"),
    gettext_noop("stop digest"),
    gettext_noop("one thing learnt"),
    gettext_noop("one thing being worked on"),
    gettext_noop("one question to ask at home"),
    gettext_noop("written at"),
    gettext_noop("approved by"),
    gettext_noop("approved at"),
    gettext_noop("language of these words"),
)


def kept_groups(club: Club) -> list[KeptGroup]:
    """Every record of the program, the children's first."""
    return [
        KeptGroup(of, _(heading), tuple(_line(label, kept, club) for label, kept in KEPT.items() if kept.of is of))
        for of, heading in HEADINGS.items()
    ]


def _line(label: str, kept: Kept, club: Club) -> KeptLine:
    fields = [_(str(f.verbose_name)) for f in apps.get_model(label)._meta.concrete_fields if not f.primary_key]
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
