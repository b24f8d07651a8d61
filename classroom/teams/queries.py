"""Queries of teams, one named method for each screen that asks."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Self

from django.apps import apps
from django.db import models
from django.db.models import Prefetch

if TYPE_CHECKING:
    from classroom.models import Team  # noqa: F401


class TeamQuerySet(models.QuerySet["Team"]):
    def active(self) -> Self:
        return self.filter(archived_at=None)

    def with_robot(self) -> Self:
        """Each team with its robot of today as ``current`` (a list of none or one assignment)."""
        assignments = apps.get_model("classroom", "RobotAssignment")._default_manager
        current = assignments.filter(to_on=None).select_related("robot")
        return self.prefetch_related(Prefetch("assignments", queryset=current, to_attr="current"))

    def with_members(self) -> Self:
        memberships = apps.get_model("classroom", "Membership")._default_manager
        now = memberships.filter(left_on=None).select_related("member").order_by("member__nickname")
        return self.prefetch_related(Prefetch("memberships", queryset=now, to_attr="present"))

    def with_tablets(self, at: dt.datetime) -> Self:
        """Each team with the tablets that are signed in ``at`` as ``tablets_in``."""
        sessions = apps.get_model("classroom", "TabletSession")._default_manager
        signed_in = sessions.filter(ended_at=None, expires_at__gt=at)
        return self.prefetch_related(Prefetch("tablet_sessions", queryset=signed_in, to_attr="tablets_in"))
