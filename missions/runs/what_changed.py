"""Whether a team's runs have changed: for the term's pictures and the family's page alike, each in its own words."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from classroom.robots.robot_at import HeldRobot
from missions.models import Attempt
from missions.runs.rules.changes import Changes, PlanRun, changes_in

#: The newest runs of a team in a tier that are compared.
MOST = 48


class ComparedRun(NamedTuple):
    """What is looked at of a run, which would be slower to read as a row with all that a row can do."""

    team_id: int
    tier_id: int
    made_at: dt.datetime
    success: bool
    plan_number: int | None
    lateral_mm: float | None
    along_mm: float | None


@dataclass(frozen=True)
class PlanRuns:
    """Runs of one plan with the robot as it is now, the oldest first as (when, how far from the mark in mm or None)."""

    tier_id: int
    changes: Changes
    runs: tuple[tuple[dt.datetime, float | None], ...]


def what_changed(
    held: Mapping[int, HeldRobot], at: dt.datetime, before: dt.datetime | None = None
) -> dict[int, PlanRuns]:
    """By team, of the tier that it ran last; only teams with a run that counts. One query."""
    if not held:
        return {}
    chosen = Attempt.objects.since_change(held, at)
    if before is not None:
        chosen = chosen.filter(made_at__lt=before)
    by_team: dict[int, list[ComparedRun]] = {}
    for run in map(ComparedRun._make, chosen.newest_in_last_tier(MOST).values_list(*ComparedRun._fields)):
        by_team.setdefault(run.team_id, []).append(run)
    return {team_id: _of_plan(runs) for team_id, runs in by_team.items()}


def _of_plan(newest_first: list[ComparedRun]) -> PlanRuns:
    tier_id = newest_first[0].tier_id
    runs = [run for run in reversed(newest_first) if run.tier_id == tier_id]
    found = changes_in([PlanRun(run.plan_number or 0, run.success, off_mm(run)) for run in runs])
    assert found is not None, "there is a run"
    own = [run for run in runs if run.plan_number == found.plan]
    return PlanRuns(tier_id, found, tuple((run.made_at, off_mm(run)) for run in own))


def off_mm(run: Attempt | ComparedRun) -> float | None:
    """How far from the mark it ended; None unless both ways were measured."""
    if run.lateral_mm is None or run.along_mm is None:
        return None
    return math.hypot(run.lateral_mm, run.along_mm)
