"""The club's log of who did what and when; never what was said."""

from __future__ import annotations

import datetime as dt

from classroom.models import AuditEntry, Club, Coach, Member, SummaryLink, TabletSession, Team

Actor = Coach | Team | TabletSession | SummaryLink | Member | str


def label(row: Actor) -> str:
    """``coach:12``, ``team:3``; a text such as ``system`` stands for itself."""
    return row if isinstance(row, str) else f"{row._meta.model_name}:{row.pk}"


def note(club: Club, actor: Actor, verb: str, subject: Actor, now: dt.datetime) -> AuditEntry:
    """Add one entry. Call it inside the transaction that does what it tells of."""
    return AuditEntry.objects.create(
        club=club, at=now, actor=label(actor)[:60], verb=verb[:40], subject=label(subject)[:80]
    )
