"""Queries of runs, one named method for each screen that asks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Self

from django.db import models
from django.db.models import Count, F, Max, Q, Window
from django.db.models.functions import FirstValue, RowNumber

if TYPE_CHECKING:
    from classroom.models import Team
    from classroom.robots.robot_at import HeldRobot
    from missions.models import Attempt, Tier  # noqa: F401

#: Dots that a map still shows apart.
MOST_MET = 20


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

    def met_of_plan(self, team: Team, tier: Tier, number: int) -> list[tuple[int, float, float]]:
        """Where the newest runs of a plan met their targets: number of the target, to the left and along, mm."""
        rows = self.standing().filter(
            team=team, tier=tier, plan_number=number, trial=None, lateral_mm__isnull=False, along_mm__isnull=False
        )
        return list(rows.order_by("-made_at").values_list("at_target", "lateral_mm", "along_mm")[:MOST_MET])

    def of_robot_since(self, robot: Any, since: dt.datetime) -> Self:
        """Whose plan is known, of whatever team, newest first."""
        runs = self.standing().filter(robot=robot, made_at__gte=since, plan_number__isnull=False)
        return runs.order_by("-made_at", "-pk").only(
            "team_id",
            "tier_id",
            "plan_number",
            "made_at",
            "duration_s",
            "outcomes",
            "lateral_mm",
            "along_mm",
            "heading_error_deg",
            "at_target",
        )

    def tallied_since(self, since: Mapping[int, dt.datetime]) -> list[tuple[int, int, int, int | None, int, int]]:
        """Of many robots, each with its own moment, the runs whose plan is known: robot, team, tier, number of the plan, how many
        of it there are, the key of the newest.

        Those two tell a plan's runs from those of any other moment: a run that has come has the highest key, and one that has
        been taken back does not come again.
        """
        chosen = Q(pk__in=())
        for robot_id, moment in since.items():
            chosen |= Q(robot=robot_id, made_at__gte=moment)
        plans = (
            self.standing().filter(chosen, plan_number__isnull=False).order_by("robot", "team", "tier", "plan_number")
        )
        found = plans.values("robot", "team", "tier", "plan_number").annotate(runs=Count("pk"), newest=Max("pk"))
        return list(found.values_list("robot", "team", "tier", "plan_number", "runs", "newest"))

    def since_change(self, held: Mapping[int, HeldRobot], at: dt.datetime) -> Self:
        """By team those of a known plan that were made with the robot it has at a moment, as that has been since.

        The runs of which ``missions.runs.rules.runs_say`` tells what they say.
        """
        chosen = Q(pk__in=())
        for team_id, one in held.items():
            since = one.last_changed(at)
            own = Q(team=team_id, robot=one.robot.pk)
            chosen |= own if since is None else own & Q(made_at__gte=since)
        return self.standing().filter(chosen, plan_number__isnull=False).order_by("-made_at", "-pk")

    def newest_in_last_tier(self, most: int) -> Self:
        """So many of each team, of the tier that it ran last."""
        newest_first = ["-made_at", "-pk"]
        age = Window(RowNumber(), partition_by=["team", "tier"], order_by=newest_first)
        last = Window(FirstValue("tier"), partition_by=["team"], order_by=newest_first)
        return self.annotate(age=age, last_tier=last).filter(age__lte=most, last_tier=F("tier"))

    def for_evidence(self) -> Self:
        """With what the evidence page shows of each run, newest first; maps, outlines and readings stay where they are."""
        related = self.select_related("robot", "calibration", "replaced_by", "trial").only(
            "team_id",
            "tier_id",
            "made_at",
            "success",
            "duration_s",
            "lateral_mm",
            "along_mm",
            "cause",
            "change_to_try",
            "note",
            "plan_number",
            "withdrawn_at",
            "robot__name",
            "calibration__kind",
            "calibration__measured_at",
            "replaced_by__received_at",
            "trial__plan_number",
            "trial__letter",
            "trial__words",
        )
        return related.order_by("-made_at", "-pk")
