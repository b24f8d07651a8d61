"""Queries of planning, one named method for each screen that asks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from planning.models import Course, Job  # noqa: F401


class CourseQuerySet(models.QuerySet["Course"]):
    def visible_to_team(self) -> Self:
        return self.filter(models.Q(origin="team") | ~models.Q(shown_to_team_at=None))


class JobQuerySet(models.QuerySet["Job"]):
    pass
