"""Putting a mission away, bringing it back, and, as a second step a month later, deleting one that no team has had."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import ProtectedError
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.club.services.audit import note_in_audit
from classroom.errors import ConflictError, InputError
from classroom.models import Coach
from classroom.site.isolated import isolated
from missions.errors import MissionsCode
from missions.models import Attempt, Mission, Progress

#: So long everybody can still miss a mission that was put away, before anybody can delete it.
KEPT_FOR = dt.timedelta(days=30)
_RECORDS = gettext_lazy("Teams have had this mission: their runs, courses and decisions need it. It stays, put away.")


@transaction.atomic
def archive_mission(mission: Mission, *, coach: Coach, now: dt.datetime) -> None:
    """Put a mission away. Nothing of it is lost, published or not."""
    if mission.archived_at is not None:
        return
    mission.archived_at = now
    mission.save(update_fields=["archived_at"])
    note_in_audit(mission.club, coach, "mission_archived", f"mission:{mission.pk}", now=now)
    mission.club.touch()


@transaction.atomic
def restore_mission(mission: Mission, *, coach: Coach, now: dt.datetime) -> Mission:
    """Bring a mission that was put away back.

    Raises
    ------
    InputError
        ``title_taken`` when another mission has its title by now.
    """
    if Mission.objects.active().filter(club=mission.club, title=mission.title).exclude(pk=mission.pk).exists():
        raise InputError(
            MissionsCode.TITLE_TAKEN,
            _("Another mission is called “%(mission)s” by now. Rename that one first.")
            % {"mission": isolated(mission.title)},
        )
    mission.archived_at = None
    mission.save(update_fields=["archived_at"])
    note_in_audit(mission.club, coach, "mission_restored", f"mission:{mission.pk}", now=now)
    mission.club.touch()
    return mission


def deletable_from(mission: Mission) -> dt.datetime | None:
    """The first moment at which a mission that was put away can be deleted; None while it is in use."""
    return mission.archived_at + KEPT_FOR if mission.archived_at else None


def has_records(mission: Mission) -> bool:
    """Whether a team has run it or had it open."""
    runs, open_for = Attempt.objects.filter(tier__mission=mission), Progress.objects.filter(tier__mission=mission)
    return runs.exists() or open_for.exists()


@transaction.atomic
def delete_mission(mission: Mission, title: str, *, coach: Coach, now: dt.datetime) -> None:
    """Delete a mission for good. ``title`` is its title as somebody typed it, so that it is never the wrong one.

    Raises
    ------
    ConflictError
        ``not_archived``: it is in use; ``kept_still``: taken away less than a month ago; ``has_records``.
    InputError
        ``other_title``.
    """
    since = deletable_from(mission)
    if since is None:
        raise ConflictError(MissionsCode.NOT_ARCHIVED, _("This mission is in use. Take it away first."))
    if now < since:
        raise ConflictError(
            MissionsCode.KEPT_STILL,
            _("It is kept until %(since)s, so that it can be missed.") % {"since": date_format(since, "DATE_FORMAT")},
        )
    if " ".join(title.split()).casefold() != mission.title.casefold():
        raise InputError(
            MissionsCode.OTHER_TITLE,
            _("Type its title, “%(mission)s”, to delete it.") % {"mission": isolated(mission.title)},
        )
    if has_records(mission):
        raise ConflictError(MissionsCode.HAS_RECORDS, _RECORDS)
    club, subject = mission.club, f"mission:{mission.pk}"
    try:
        with transaction.atomic():
            mission.delete()
    except ProtectedError as error:  # a team has a course for it
        raise ConflictError(MissionsCode.HAS_RECORDS, _RECORDS) from error
    note_in_audit(club, coach, "mission_deleted", subject, now=now)
    club.touch()
