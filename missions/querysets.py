"""Queries of the missions, one named method for each screen that asks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from missions.models import Attempt, Mission, Progress  # noqa: F401


class MissionQuerySet(models.QuerySet["Mission"]):
    def active(self) -> Self:
        return self.filter(archived_at=None)


class ProgressQuerySet(models.QuerySet["Progress"]):
    pass


class AttemptQuerySet(models.QuerySet["Attempt"]):
    def standing(self) -> Self:
        """Those that count: neither corrected by a later row nor withdrawn."""
        return self.filter(replaced_by=None, withdrawn_at=None)
