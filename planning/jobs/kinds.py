"""The kinds of background work. A kind is two functions: the work on plain values, and what its result changes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from planning.courses.services.plan_team_course import PLAN_COURSE, find_courses, keep_plans
from planning.feasibility.services.feasibility import FEASIBILITY, find_feasibility
from planning.feasibility.services.obstacle_places import OBSTACLE_PLACES, find_places
from planning.jobs.progress import JobControl
from planning.jobs.services.best_rota import BEST_ROTA, find_best_rota, keep_best_rota
from planning.models import Job


@dataclass(frozen=True)
class Kind:
    """``work(input, progress)`` gives the result and touches no row; ``keep(job, result, now)`` writes what follows from
    it, in the transaction that writes the result.
    """

    work: Callable[[dict[str, Any], JobControl], dict[str, Any]]
    keep: Callable[[Job, dict[str, Any], dt.datetime], None]


def keep_nothing(job: Job, result: dict[str, Any], now: dt.datetime) -> None:
    """The result in its row is all there is."""


KINDS: dict[str, Kind] = {
    PLAN_COURSE: Kind(find_courses, keep_plans),
    FEASIBILITY: Kind(find_feasibility, keep_nothing),
    OBSTACLE_PLACES: Kind(find_places, keep_nothing),
    BEST_ROTA: Kind(find_best_rota, keep_best_rota),
}
