"""A new club: empty, with an invitation for the one who will lead it."""

from __future__ import annotations

import datetime as dt
import secrets

from django.db import transaction

from classroom.club.services.audit import note_in_audit
from classroom.families.share_summary import TOKEN_BYTES
from classroom.models import Club, Invitation, Role
from classroom.people.services.invite_coach import GOOD_FOR
from classroom.site.tokens import digest_of


@transaction.atomic
def open_club(name: str, email: str, *, unit: str, time_zone: str, now: dt.datetime) -> tuple[Invitation, str]:
    """The invitation of its first lead coach, and the token that opens it once and for a week."""
    club = Club.objects.create(name=name, unit=unit, time_zone=time_zone, created_at=now)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    invitation = Invitation.objects.create(
        club=club,
        email=email,
        role=Role.LEAD,
        token_digest=digest_of(token),
        created_at=now,
        expires_at=now + GOOD_FOR,
    )
    note_in_audit(club, None, "opened club", f"club:{club.pk}", now=now)
    return invitation, token
