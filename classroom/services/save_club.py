"""A club's settings: its name, unit, time zone and how long records stay."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction

from classroom.models import Club, Coach
from classroom.services.audit import note_in_audit

FIELDS = ("name", "unit", "time_zone", "retention_days")


@transaction.atomic
def save_club(club: Club, lead: Coach, values: dict[str, Any], *, now: dt.datetime) -> None:
    """Lengths are stored in mm: another unit changes what is shown, never what was measured."""
    for field in FIELDS:
        setattr(club, field, values[field])
    club.save(update_fields=FIELDS)
    note_in_audit(club, lead, "changed settings", f"club:{club.pk}", now=now)
    club.touch()
