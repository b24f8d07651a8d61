"""Taking a mission away: one that a team has had is archived, so that no run or decision loses its mission."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import ProtectedError

from classroom.club.services.audit import note_in_audit
from classroom.errors import InputError
from classroom.models import Coach
from missions.errors import MissionsCode
from missions.models import Attempt, Mission, Progress


@transaction.atomic
def archive_mission(mission: Mission, *, coach: Coach, now: dt.datetime) -> bool:
    """Delete a mission that no team has had open, run or planned for; archive any other. True when it was archived."""
    club, subject = mission.club, f"mission:{mission.pk}"
    archived = (
        Attempt.objects.filter(tier__mission=mission).exists()
        or Progress.objects.filter(tier__mission=mission).exists()
    )
    if not archived:
        try:
            with transaction.atomic():
                mission.delete()
        except ProtectedError:  # a team has a course for it
            archived = True
    if archived:
        mission.archived_at = now
        mission.save(update_fields=["archived_at"])
    note_in_audit(club, coach, "mission_archived" if archived else "mission_deleted", subject, now=now)
    club.touch()
    return archived


@transaction.atomic
def restore_mission(mission: Mission, *, coach: Coach, now: dt.datetime) -> Mission:
    """Bring an archived mission back.

    Raises
    ------
    InputError
        ``title_taken`` when another mission has its title by now.
    """
    if Mission.objects.active().filter(club=mission.club, title=mission.title).exclude(pk=mission.pk).exists():
        raise InputError(
            MissionsCode.TITLE_TAKEN, f"Another mission is called “{mission.title}” by now. Rename that one first."
        )
    mission.archived_at = None
    mission.save(update_fields=["archived_at"])
    note_in_audit(mission.club, coach, "mission_restored", f"mission:{mission.pk}", now=now)
    mission.club.touch()
    return mission
