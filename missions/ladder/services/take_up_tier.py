"""A team goes to another of its open tiers on its tablet."""

from __future__ import annotations

import datetime as dt

from classroom.access import TeamSeat
from missions.models import Progress, Tier


def take_up_tier(seat: TeamSeat, tier: Tier, *, now: dt.datetime) -> None:
    """From now on the tablet shows this tier unasked, until the team goes to or runs in another."""
    Progress.objects.filter(team=seat.team, tier=tier).update(taken_up_at=now)
    seat.club.touch()
