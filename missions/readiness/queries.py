"""Queries of progress and decisions, one named method for each screen that asks."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import F, Q

if TYPE_CHECKING:
    from missions.models import ChangeMark, Mission, Progress, ProgressChange, Tier  # noqa: F401


class ProgressQuerySet(models.QuerySet["Progress"]):
    def of_mission(self, mission: Mission) -> Self:
        """The cells of a mission's board, with their evidence."""
        return self.filter(tier__mission=mission, team__archived_at=None)

    def for_needs(self, club_id: int) -> models.QuerySet[Progress, tuple]:
        """Every team in every tier of the club without its evidence, as tuples in the order of needs.ProgressRow."""
        rows = self.filter(
            team__club=club_id, team__archived_at=None, tier__mission__club=club_id, tier__mission__archived_at=None
        )
        return rows.order_by("tier__mission__order", "tier__mission", "tier__order").values_list(
            "team_id",
            "tier_id",
            "tier__name",
            "tier__mission_id",
            "tier__mission__title",
            "state",
            "held_at",
            "answer",
            "answer_kind",
            "why",
            "last_run_at",
            "opened_at",
            "tier__left_out_at",
            "marked_at",
        )


class ChangeMarkQuerySet(models.QuerySet["ChangeMark"]):
    def standing(self, at: dt.datetime | None = None) -> Self:
        """Those that were not taken back; today, or as it was known at a time."""
        if at is None:
            return self.filter(taken_back_at=None)
        return self.filter(Q(taken_back_at=None) | Q(taken_back_at__gt=at), at__lte=at)

    def of_tier(self, tier: Tier) -> Self:
        """Those that concern a tier: of its mission's program, or of the robot."""
        return self.filter(Q(mission=None) | Q(mission=tier.mission_id))


class ProgressChangeQuerySet(models.QuerySet["ProgressChange"]):
    def that_stand(self, mission: Mission) -> Self:
        """The decisions that the board names: who passed or held back a team, where that is how it stands."""
        signed = Q(to_state="passed", progress__passed_at=F("at")) | Q(progress__held_at=F("at"))
        rows = self.filter(signed, progress__tier__mission=mission, progress__team__archived_at=None)
        return rows.select_related("by__user")
