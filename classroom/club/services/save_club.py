"""A club's settings: its name, unit, time zone, language, how long records stay, and two things that may be or not.

The two: families read which jobs their child had; tables and robots are measured by a picture.
"""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import available_timezones

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, InputError
from classroom.models import Club, Coach
from classroom.site.clash.mark import mark_of, refuse_changed

FIELDS = ("name", "unit", "time_zone", "locale", "retention_days", "tells_jobs", "measures_by_camera")


def club_mark(club: Club) -> str:
    return mark_of(*(getattr(club, field) for field in FIELDS))


SET_CLOCK = "set the clock"


@transaction.atomic
def set_club_clock(club: Club, lead: Coach, zone: str, *, now: dt.datetime) -> None:
    """The city whose time the club goes by.

    Raises
    ------
    InputError
        ``no_such_zone``.
    """
    if zone not in available_timezones():
        raise InputError(ClassroomCode.NO_SUCH_ZONE, _("That city is not in the list. Choose one of the list."))
    Club.objects.filter(pk=club.pk).update(time_zone=zone)
    note_in_audit(club, lead, SET_CLOCK, f"club:{club.pk}", now=now)
    club.touch()


@transaction.atomic
def save_club(club: Club, lead: Coach, values: dict[str, Any], *, seen: str | None = None, now: dt.datetime) -> None:
    """Lengths are stored in mm: another unit changes what is shown, never what was measured.

    Raises
    ------
    ConflictError
        ``changed_meanwhile``.
    """
    club = Club.objects.select_for_update().get(pk=club.pk)
    refuse_changed(seen, club_mark(club), club, f"club:{club.pk}", ("changed settings",))
    for field in FIELDS:
        setattr(club, field, values[field])
    club.save(update_fields=FIELDS)
    note_in_audit(club, lead, "changed settings", f"club:{club.pk}", now=now)
    club.touch()
