"""Queries of courses, one named method for each screen or service that asks."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Self

from django.db import models

from missions.models import TierVersion

if TYPE_CHECKING:
    from missions.models import Attempt
    from planning.models import Course


class CourseQuerySet(models.QuerySet["Course"]):
    def visible_to_team(self) -> Self:
        return self.filter(models.Q(origin="team") | ~models.Q(shown_to_team_at=None))

    def of_team_in_tier(self, team: Any, tier: Any) -> Self:
        """All plans of a team in a tier, newest first, whatever the mission's version."""
        return self.filter(team=team, tier_version__tier=tier).select_related("robot", "tier_version__version")

    def asked_of_team(self, team: Any) -> Self:
        """Those that a coach shows a team in a tier that is still offered, and that it has not answered; newest first."""
        shown = self.filter(team=team, answer="", shown_to_team_at__isnull=False, tier_version__tier__left_out_at=None)
        return shown.select_related("tier_version__tier__mission").order_by("-shown_to_team_at", "-pk")

    def run_in(self, attempts: Iterable[Attempt]) -> Self:
        """The courses that runs were made of, with their maps."""
        runs = list(attempts)
        return self.filter(
            team__in={run.team_id for run in runs},
            tier_version__tier__in={run.tier_id for run in runs},
            number__in={run.plan_number for run in runs},
        ).select_related("team", "robot", "tier_version__version__mission", "tier_version__tier")

    def unchecked(self) -> Self:
        """Kept while the kernels were not ready, each with all that its check needs."""
        return self.filter(check_result={}).select_related(
            "team__club", "robot", "tier_version__version", "tier_version__tier"
        )

    def for_cards(self) -> Self:
        """With all that a card shows."""
        return self.select_related(
            "team__club", "robot", "tier_version__version__mission", "tier_version__tier", "calibration"
        )

    def for_cards_of(self, teams: Iterable[Any], tier: Any) -> list[Course]:
        """What these teams see in a tier, the oldest first: ``for_cards``, where many have one map, which is read once."""
        by_key = {team.pk: team for team in teams}
        maps = models.Prefetch("tier_version", TierVersion.objects.select_related("version__mission"))
        rows = self.visible_to_team().filter(team__in=by_key, tier_version__tier=tier)
        rows = rows.select_related("robot").prefetch_related(maps)
        courses: list[Course] = list(rows.order_by("number"))
        for course in courses:
            course.team, course.tier_version.tier = by_key[course.team_id], tier
        return courses
