"""What the club keeps, told from the list that the program itself goes by (``records/kept.py``)."""

from __future__ import annotations

from dataclasses import dataclass

from django.apps import apps
from django.conf import settings

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
    Of.CHILD: "About a child",
    Of.FAMILY: "About a child's family",
    Of.TEAM: "About a team",
    Of.COACH: "About a coach",
    Of.DOOR: "About whoever comes to the door",
    Of.CLUB: "About the club and its things",
}


def kept_groups(club: Club) -> list[KeptGroup]:
    """Every record of the program, the children's first."""
    return [
        KeptGroup(of, heading, tuple(_line(label, kept, club) for label, kept in KEPT.items() if kept.of is of))
        for of, heading in HEADINGS.items()
    ]


def _line(label: str, kept: Kept, club: Club) -> KeptLine:
    fields = [str(f.verbose_name) for f in apps.get_model(label)._meta.concrete_fields if not f.primary_key]
    return KeptLine(kept, ", ".join(fields), kept.until.format(days=club.retention_days))


def whom_to_ask(club: Club) -> list[Coach]:
    return list(Coach.objects.select_related("user").filter(club=club, role="lead", left_at=None).order_by("pk"))


def where_it_lies() -> str:
    if settings.HELMROOM_MODE == "server":
        return "In the database of the server that this page comes from."
    return "On the club's own computer that this page comes from, in helmroom's data folder, which only its owner can read."
