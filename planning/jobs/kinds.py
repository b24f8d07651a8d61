"""The kinds of background work. A kind is two functions, the work on plain values and what its result changes, and a rank."""

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
from planning.jobs.services.family_drafts import FAMILY_DRAFTS, make_drafts
from planning.jobs.services.family_letters import FAMILY_LETTER, carry_letter
from planning.models import Job

#: People stand at a table and wait; somebody waits before a page; it is got ready for later.
AT_A_TABLE, AT_A_PAGE, FOR_LATER = range(3)


@dataclass(frozen=True)
class Kind:
    """``work(input, progress)`` gives the result and touches no row; ``keep(job, result, now)`` writes what follows from
    it, in the transaction that writes the result. The lower the ``rank``, the sooner its turn.

    Two write rows of their own: a letter is marked before it leaves, since it cannot be called back, and drafts for
    families name children, of whom nothing may stand in a job's row.
    """

    work: Callable[[dict[str, Any], JobControl], dict[str, Any]]
    keep: Callable[[Job, dict[str, Any], dt.datetime], None]
    rank: int = AT_A_TABLE


def keep_nothing(job: Job, result: dict[str, Any], now: dt.datetime) -> None:
    """The result in its row is all there is."""


KINDS: dict[str, Kind] = {
    PLAN_COURSE: Kind(find_courses, keep_plans, AT_A_TABLE),
    FEASIBILITY: Kind(find_feasibility, keep_nothing, FOR_LATER),
    OBSTACLE_PLACES: Kind(find_places, keep_nothing, AT_A_PAGE),
    FAMILY_DRAFTS: Kind(make_drafts, keep_nothing, AT_A_PAGE),
    FAMILY_LETTER: Kind(carry_letter, keep_nothing, FOR_LATER),
    BEST_ROTA: Kind(find_best_rota, keep_best_rota, AT_A_PAGE),
}


def ranks() -> dict[str, int]:
    """The rank of each kind."""
    return {name: kind.rank for name, kind in KINDS.items()}
