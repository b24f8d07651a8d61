"""Queries of the classroom, one named method for each screen that asks."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import OuterRef, Prefetch, Subquery

if TYPE_CHECKING:
    from classroom.models import Calibration, Club, Robot, Spare, Team  # noqa: F401


class ClubQuerySet(models.QuerySet["Club"]):
    def of_user(self, user: object) -> Self:
        return self.filter(coaches__user=user, coaches__left_at=None)


class TeamQuerySet(models.QuerySet["Team"]):
    def active(self) -> Self:
        return self.filter(archived_at=None)

    def with_robot(self) -> Self:
        """Each team with its robot of today as ``current`` (a list of none or one assignment)."""
        from classroom.models import RobotAssignment

        current = RobotAssignment.objects.filter(to_on=None).select_related("robot")
        return self.prefetch_related(Prefetch("assignments", queryset=current, to_attr="current"))

    def with_members(self) -> Self:
        from classroom.models import Membership

        now = Membership.objects.filter(left_on=None).select_related("member").order_by("member__nickname")
        return self.prefetch_related(Prefetch("memberships", queryset=now, to_attr="present"))

    def with_tablets(self, at: dt.datetime) -> Self:
        """Each team with the tablets that are signed in ``at`` as ``tablets_in``."""
        from classroom.models import TabletSession

        signed_in = TabletSession.objects.filter(ended_at=None, expires_at__gt=at)
        return self.prefetch_related(Prefetch("tablet_sessions", queryset=signed_in, to_attr="tablets_in"))


class RobotQuerySet(models.QuerySet["Robot"]):
    def with_last_calibration(self) -> Self:
        from classroom.models import Calibration

        latest = Calibration.objects.filter(robot=OuterRef("pk")).order_by("-measured_at").values("measured_at")[:1]
        return self.annotate(last_calibrated_at=Subquery(latest))

    def with_team(self) -> Self:
        from classroom.models import RobotAssignment

        current = RobotAssignment.objects.filter(to_on=None).select_related("team")
        return self.prefetch_related(Prefetch("assignments", queryset=current, to_attr="current"))

    def with_open_notes(self) -> Self:
        """Each robot with its service notes that are not done as ``open_notes``, the soonest due first."""
        from classroom.models import ServiceNote

        waiting = ServiceNote.objects.filter(done_on=None).order_by("due_on", "pk")
        return self.prefetch_related(Prefetch("service_notes", queryset=waiting, to_attr="open_notes"))


class CalibrationQuerySet(models.QuerySet["Calibration"]):
    def in_force(self, at: dt.datetime | None = None) -> Self:
        """Those that no later one of the same kind has superseded."""
        return self.filter(superseded_by=None) if at is None else self.filter(measured_at__lte=at)


class SpareQuerySet(models.QuerySet["Spare"]):
    def kept(self) -> Self:
        return self.filter(retired_at=None)

    def to_buy(self) -> Self:
        """Those of which fewer are on hand than the club wants to keep."""
        return self.kept().filter(on_hand__lt=models.F("least"))
