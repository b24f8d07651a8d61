"""The club's log of who did what and when; never what was said."""

from __future__ import annotations

import datetime as dt

from classroom.models import AuditEntry, Club, Coach, Member, SummaryLink, TabletSession, Team

Actor = Coach | Team | TabletSession | SummaryLink | Member | str | None


def actor_label(actor: Actor) -> str:
    """``coach:12``, ``team:3``; None is the system itself, a text stands for itself."""
    if actor is None:
        return "system"
    return actor if isinstance(actor, str) else f"{actor._meta.model_name}:{actor.pk}"


def note_in_audit(club: Club, actor: Actor, verb: str, subject: str = "", *, now: dt.datetime) -> AuditEntry:
    """Add one entry. Call it inside the transaction that does what it tells of."""
    return AuditEntry.objects.create(
        club=club, at=now, actor=actor_label(actor)[:60], verb=verb[:40], subject=subject[:80]
    )
