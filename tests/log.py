"""What an act leaves behind: the entries of the club's log in words, and whether live pages are told."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from django.apps import apps

from classroom.models import AuditEntry, Club, Coach


def noted_by(act: Callable[[], Any], club: Club, now: dt.datetime) -> list[str]:
    """Entries that the act adds, oldest first: "lead renamed team (team Sandpiper)". All are of this club and moment."""
    before = set(AuditEntry.objects.values_list("pk", flat=True))
    act()
    added = AuditEntry.objects.exclude(pk__in=before).order_by("pk")
    assert {(entry.club_id, entry.at) for entry in added} <= {(club.pk, now)}
    return [_in_words(entry) for entry in added]


def tells_live_pages(act: Callable[[], Any], club: Club) -> bool:
    before = Club.objects.get(pk=club.pk).live_version
    act()
    return Club.objects.get(pk=club.pk).live_version > before


def _in_words(entry: AuditEntry) -> str:
    subject = f" ({_named(entry.subject)})" if entry.subject else ""
    return f"{_named(entry.actor)} {entry.verb}{subject}"


KINDS = {
    "link": "summarylink",
    "turn": "rotaturn",
    "card": "safetycard",
    "version": "missionversion",
    "note": "quicknote",
}


def _named(label: str) -> str:
    """A row's label with what people call the row in place of its number; a coach by the role."""
    if ":" not in label:
        return label
    if " " in label:
        return ", ".join(_named(part) for part in label.split(" "))
    kind, _, key = label.partition(":")
    ours = [m for m in apps.get_models() if m._meta.app_label in ("classroom", "missions", "planning")]
    model = next(m for m in ours if m._meta.model_name == KINDS.get(kind, kind))
    row = model._default_manager.filter(pk=int(key)).first()
    if row is None:
        return f"{kind} that is gone"
    return f"{row.role}" if isinstance(row, Coach) else f"{kind} {row}"
