"""Queries of missions and their tiers, one named method for each screen that asks."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Self

from django.apps import apps
from django.db import models
from django.db.models import OuterRef, Q, Subquery

if TYPE_CHECKING:
    from missions.models import Mission, Tier, TierVersion  # noqa: F401


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
        published = Q(published_at__isnull=False) if at is None else Q(published_at__lte=at)
        versions = apps.get_model("missions", "MissionVersion")._default_manager
        newest = versions.filter(published, mission=OuterRef("tier__mission")).order_by("-number")
        rows = self.filter(version=Subquery(newest.values("pk")[:1]))
        return rows.select_related("tier", "version__mission").order_by("order")

    def last_published(self) -> Self:
        """Each tier as it stands in the newest published version that has it, offered or left out by now."""
        own = self.model._default_manager.filter(tier=OuterRef("tier"), version__published_at__isnull=False)
        newest = own.order_by("-version__number")
        return self.filter(pk=Subquery(newest.values("pk")[:1])).select_related("tier", "version__mission")
