"""Queries of runs, one named method for each screen that asks."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any, Self

from django.db import models
from django.db.models import Q

if TYPE_CHECKING:
    from missions.models import Attempt  # noqa: F401


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

    def of_robot_since(self, robot: Any, since: dt.datetime) -> Self:
        """Whose plan is known, of whatever team, newest first."""
        runs = self.standing().filter(robot=robot, made_at__gte=since, plan_number__isnull=False)
        return runs.order_by("-made_at", "-pk")

    def for_evidence(self) -> Self:
        """With what the evidence page shows of each run, newest first."""
        related = self.select_related("robot", "calibration", "tier_version__version", "session", "replaced_by")
        return related.order_by("-made_at", "-pk")
