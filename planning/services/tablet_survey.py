"""Keeping and ending a team's tape survey."""

from __future__ import annotations

import datetime as dt

from django.db import transaction

from classroom.models import Team
from missions.models import TierVersion
from planning.models import TableSurvey
from planning.tablet_measured import Fix, record_of


@transaction.atomic
def keep_survey(team: Team, edition: TierVersion, fix: Fix, *, now: dt.datetime) -> TableSurvey:
    """From now on the team's courses on this tier are drawn and checked where the tape has things."""
    made = TableSurvey.objects.create(
        team=team,
        tier_version=edition,
        readings=[{"mark": r.mark, "to": r.to, "distance_mm": r.distance_mm} for r in fix.readings],
        places=record_of(fix.places),
        made_at=now,
    )
    team.club.touch()
    return made


@transaction.atomic
def end_survey(team: Team, edition: TierVersion, *, now: dt.datetime) -> None:
    """Back to the mission's own places; the readings stay on record."""
    TableSurvey.objects.filter(team=team, tier_version=edition, ended_at=None).update(ended_at=now)
    team.club.touch()
