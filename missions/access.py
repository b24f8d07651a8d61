"""The only way to a mission, tier, progress or attempt."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404

from classroom.access import TeamSeat, get_or_404
from classroom.models import Coach
from missions.models import Attempt, Mission, MissionVersion, Progress, ProgressState, Tier, TierVersion


def get_mission(coach: Coach, pk: int) -> Mission:
    return get_or_404(Mission.objects.filter(club=coach.club), pk)


def get_version(coach: Coach, pk: int) -> MissionVersion:
    return get_or_404(MissionVersion.objects.select_related("mission").filter(mission__club=coach.club), pk)


def get_tier(coach: Coach, pk: int) -> Tier:
    return get_or_404(Tier.objects.select_related("mission").filter(mission__club=coach.club), pk)


def get_attempt(coach: Coach, pk: int) -> Attempt:
    return get_or_404(Attempt.objects.select_related("team", "tier__mission").filter(team__club=coach.club), pk)


def current_tier_version(tier: Tier) -> TierVersion | None:
    """The tier as last published."""
    return (
        TierVersion.objects.select_related("version__mission", "tier")
        .filter(tier=tier)
        .exclude(version__published_at=None)
        .order_by("-version__number")
        .first()
    )


def get_open_tier(seat: TeamSeat, pk: int) -> Tier:
    """A tier that is open for this team; any other does not exist for it."""
    open_here = Progress.objects.filter(team=seat.team, state__in=[ProgressState.WORKING, ProgressState.PASSED])
    tier = Tier.objects.select_related("mission").filter(
        pk=pk, mission__club=seat.club, mission__archived_at=None, progress__in=open_here
    )
    found = tier.first()
    if found is None:
        raise Http404
    return found


def get_own_attempt(seat: TeamSeat, uuid: UUID) -> Attempt:
    found = Attempt.objects.select_related("tier_version__version").filter(team=seat.team, uuid=uuid).first()
    if found is None:
        raise Http404
    return found
