"""Queries of robots, their calibrations and spares, one named method for each screen that asks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import TYPE_CHECKING, Self

from django.apps import apps
from django.db import models
from django.db.models import OuterRef, Prefetch, Subquery

if TYPE_CHECKING:
    from classroom.models import Calibration, Robot, Spare  # noqa: F401


class RobotQuerySet(models.QuerySet["Robot"]):
    def with_last_calibration(self) -> Self:
        calibrations = apps.get_model("classroom", "Calibration")._default_manager
        latest = calibrations.filter(robot=OuterRef("pk")).order_by("-measured_at").values("measured_at")[:1]
        return self.annotate(last_calibrated_at=Subquery(latest))

    def with_team(self) -> Self:
        assignments = apps.get_model("classroom", "RobotAssignment")._default_manager
        current = assignments.filter(to_on=None).select_related("team")
        return self.prefetch_related(Prefetch("assignments", queryset=current, to_attr="current"))

    def with_open_notes(self) -> Self:
        """Each robot with its service notes that are not done as ``open_notes``, the soonest due first."""
        notes = apps.get_model("classroom", "ServiceNote")._default_manager
        waiting = notes.filter(done_on=None).order_by("due_on", "pk")
        return self.prefetch_related(Prefetch("service_notes", queryset=waiting, to_attr="open_notes"))


class CalibrationQuerySet(models.QuerySet["Calibration"]):
    def in_force(self, at: dt.datetime | None = None) -> Self:
        """Those that no later one of the same kind has superseded."""
        return self.filter(superseded_by=None) if at is None else self.filter(measured_at__lte=at)

    def newest_of_each(self, robot_ids: Iterable[int], at: dt.datetime) -> list[tuple[int, str, bool, dt.datetime]]:
        """Of each robot, each kind, and of those that only confirmed and the others: when the newest by a moment was measured."""
        rows = self.filter(robot__in=robot_ids, measured_at__lte=at).order_by()
        newest = rows.values("robot", "kind", "confirms").annotate(newest=models.Max("measured_at"))
        return list(newest.values_list("robot", "kind", "confirms", "newest"))

    def generations(self, robot_ids: Iterable[int]) -> dict[int, int]:
        """How often a robot's numbers had changed by each of its calibrations: alike for those that only confirmed."""
        rows = self.filter(robot__in=robot_ids).order_by("robot", "measured_at", "pk")
        found: dict[int, int] = {}
        count = 0
        for pk, confirms in rows.values_list("pk", "confirms"):
            count += not confirms
            found[pk] = count
        return found


class SpareQuerySet(models.QuerySet["Spare"]):
    def kept(self) -> Self:
        return self.filter(retired_at=None)

    def to_buy(self) -> Self:
        """Those of which fewer are on hand than the club wants to keep."""
        return self.kept().filter(on_hand__lt=models.F("least"))
