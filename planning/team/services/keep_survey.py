"""Keeping and ending a team's survey: by tape, by a picture, or by both."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction

from classroom.club.services.audit import note_in_audit
from classroom.models import Coach, Team
from missions.models import TierVersion
from planning.models import TableSurvey
from planning.team.measured import SolvedSurvey, record_of


@transaction.atomic
def keep_survey(
    team: Team, edition: TierVersion, fix: SolvedSurvey, *, now: dt.datetime, by: Coach | None = None
) -> TableSurvey:
    """From now on the team's courses on this tier are drawn and checked where it has things; ``by`` whom, if not the team."""
    made = TableSurvey.objects.create(
        team=team,
        tier_version=edition,
        readings=[{"mark": r.mark, "to": r.to, "distance_mm": r.distance_mm} for r in fix.readings] + _shown(fix),
        places=record_of(fix.places),
        made_at=now,
    )
    if fix.picture is not None:
        note_in_audit(team.club, by or team, "measured a table by a picture", f"team:{team.pk}", now=now)
    team.club.touch(is_news=False)
    return made


def _shown(fix: SolvedSurvey) -> list[dict[str, Any]]:
    if fix.picture is None:
        return []
    marks, places, covariance = list(fix.picture.marks), fix.picture.places_mm, fix.picture.covariance
    return [{"marks": marks, "places_mm": places.round(3).tolist(), "covariance": covariance.round(5).tolist()}]


@transaction.atomic
def end_survey(team: Team, edition: TierVersion, *, now: dt.datetime) -> None:
    """Back to the mission's own places; the readings stay on record."""
    TableSurvey.objects.filter(team=team, tier_version=edition, ended_at=None).update(ended_at=now)
    team.club.touch(is_news=False)


@transaction.atomic
def take_up_survey(team: Team, edition: TierVersion) -> TableSurvey | None:
    """The undo of ending it: the last survey's places count again, as a row of its own that was measured when they were.

    None when none was ended.
    """
    last = last_ended(team, edition)
    if last is None:
        return None
    last.pk, last.ended_at = None, None
    last.save(force_insert=True)
    team.club.touch(is_news=False)
    return last


def last_ended(team: Team, edition: TierVersion) -> TableSurvey | None:
    """The newest survey, if it is the one that was ended."""
    newest = TableSurvey.objects.filter(team=team, tier_version=edition).order_by("-made_at", "-pk").first()
    return newest if newest is not None and newest.ended_at is not None else None
