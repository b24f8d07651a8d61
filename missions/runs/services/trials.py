"""One change of a plan, tried over the next runs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import transaction

from classroom.models import Team
from missions.models import PlanTry

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True)
class TrialInput:
    """A change as the tablet tells it: of which plan, and in words."""

    uuid: UUID
    plan_number: int
    words: str


@transaction.atomic
def keep_trial(
    team: Team, tier_id: int, told: TrialInput, *, now: dt.datetime, numbers: Sequence[str] = ()
) -> PlanTry | None:
    """The trial of this key, made if it is new; a new one ends the one before it. None for another team's key."""
    known = PlanTry.objects.filter(uuid=told.uuid).first()
    if known is not None:
        return known if known.team_id == team.pk and known.tier_id == tier_id else None
    of_tier = PlanTry.objects.select_for_update().filter(team=team, tier=tier_id)
    of_tier.filter(ended_at=None).update(ended_at=now)
    count = of_tier.filter(plan_number=told.plan_number).count()
    return PlanTry.objects.create(
        uuid=told.uuid,
        team=team,
        tier_id=tier_id,
        plan_number=told.plan_number,
        letter=letter_of(count),
        words="".join(letter for letter in told.words if letter.isprintable())[:80],
        numbers=list(numbers),
        made_at=now,
    )


def letter_of(count: int) -> str:
    """
    >>> letter_of(0), letter_of(25), letter_of(26)
    ('A', 'Z', 'AA')
    """
    return _LETTERS[count] if count < 26 else letter_of(count // 26 - 1) + _LETTERS[count % 26]


@transaction.atomic
def end_trial(team: Team, uuid: UUID, *, now: dt.datetime) -> None:
    """The next runs test it no more; what was tried stays on record. Doing it twice is doing it once."""
    PlanTry.objects.filter(team=team, uuid=uuid, ended_at=None).update(ended_at=now)
    team.club.touch()


def trial_of_key(team: Team, tier_id: int, key: Any) -> PlanTry | None:
    """A team's try in a tier by the key that a form sent; None for whatever is no such key."""
    try:
        return PlanTry.objects.filter(team=team, tier=tier_id, uuid=UUID(str(key))).first()
    except ValueError:
        return None


def pinned_trial(team: Team, tier_id: int) -> PlanTry | None:
    """What the next runs test."""
    return PlanTry.objects.filter(team=team, tier=tier_id, ended_at=None).order_by("-made_at", "-pk").first()
