"""Queries of the missions, one named method for each screen that asks."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import F, OuterRef, Q, Subquery

if TYPE_CHECKING:
    from missions.models import (  # noqa: F401
        Attempt,
        Mission,
        Progress,
        ProgressChange,
        Tier,
        TierVersion,
    )


class MissionQuerySet(models.QuerySet["Mission"]):
    def active(self) -> Self:
        return self.filter(archived_at=None)

    def published(self) -> Self:
        """Those that a team could have been given."""
        return self.active().filter(versions__published_at__isnull=False).distinct()


class TierQuerySet(models.QuerySet["Tier"]):
    def offered(self) -> Self:
        """Those of the newest published version, as far as they have been published at all."""
        return self.filter(left_out_at=None, versions__version__published_at__isnull=False).distinct()


class TierVersionQuerySet(models.QuerySet["TierVersion"]):
    def in_force(self, at: dt.datetime | None = None) -> Self:
        """Each tier as it stands in its mission's newest published version, today or at an earlier time."""
        from missions.models import MissionVersion

        published = Q(published_at__isnull=False) if at is None else Q(published_at__lte=at)
        newest = MissionVersion.objects.filter(published, mission=OuterRef("tier__mission")).order_by("-number")
        rows = self.filter(version=Subquery(newest.values("pk")[:1]))
        return rows.select_related("tier", "version__mission").order_by("order")

    def last_published(self) -> Self:
        """Each tier as it stands in the newest published version that has it, offered or left out by now."""
        from missions.models import TierVersion

        own = TierVersion.objects.filter(tier=OuterRef("tier"), version__published_at__isnull=False)
        newest = own.order_by("-version__number")
        return self.filter(pk=Subquery(newest.values("pk")[:1])).select_related("tier", "version__mission")


class ProgressQuerySet(models.QuerySet["Progress"]):
    def of_mission(self, mission: Mission) -> Self:
        """The cells of a mission's board, with their evidence."""
        return self.filter(tier__mission=mission, team__archived_at=None)

    def gists(self, club_id: int) -> models.QuerySet[Progress, tuple]:
        """Every team in every tier of the club without its evidence, as tuples in the order of needs.Gist."""
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
        )


class ProgressChangeQuerySet(models.QuerySet["ProgressChange"]):
    def that_stand(self, mission: Mission) -> Self:
        """The decisions that the board names: who passed or held back a team, where that is how it stands."""
        signed = Q(to_state="passed", progress__passed_at=F("at")) | Q(progress__held_at=F("at"))
        rows = self.filter(signed, progress__tier__mission=mission, progress__team__archived_at=None)
        return rows.select_related("by__user")


class AttemptQuerySet(models.QuerySet["Attempt"]):
    def standing(self, at: dt.datetime | None = None) -> Self:
        """Those that count: neither corrected by a later row nor withdrawn; today, or as it was known at a time."""
        if at is None:
            return self.filter(replaced_by=None, withdrawn_at=None)
        return self.filter(
            Q(withdrawn_at=None) | Q(withdrawn_at__gt=at),
            Q(replaced_by=None) | Q(replaced_by__received_at__gt=at),
            received_at__lte=at,
        )

    def for_evidence(self) -> Self:
        """With what the evidence page shows of each run, newest first."""
        related = self.select_related("robot", "calibration", "tier_version__version", "session", "replaced_by")
        return related.order_by("-made_at", "-pk")
