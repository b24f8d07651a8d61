"""The kinds of rows above the classroom that the club's log names."""

from __future__ import annotations

from classroom.club.log_names import name_in_log
from missions.models import Attempt, Mission, Tier
from planning.models import Course


def tell_log_names() -> None:
    name_in_log(
        "tier",
        lambda club, keys: {
            row.pk: f"{row.mission.title}, {row.name}"
            for row in Tier.objects.select_related("mission").filter(mission__club=club, pk__in=keys)
        },
    )
    name_in_log(
        "mission",
        lambda club, keys: {row.pk: f"“{row.title}”" for row in Mission.objects.filter(club=club, pk__in=keys)},
    )
    name_in_log(
        "attempt",
        lambda club, keys: {
            row.pk: f"a run of team {row.team} in {row.tier.mission.title}, {row.tier.name}"
            for row in Attempt.objects.select_related("team", "tier__mission").filter(team__club=club, pk__in=keys)
        },
    )
    name_in_log(
        "course",
        lambda club, keys: {
            row.pk: f"plan {row.number} of team {row.team}"
            for row in Course.objects.select_related("team").filter(team__club=club, pk__in=keys)
        },
    )
