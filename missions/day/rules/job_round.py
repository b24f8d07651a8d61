"""Who does which job in a team: round fairly, turn after turn and session after session. Pure.

Each turn goes to whoever has done each job least; nothing is drawn and nothing is kept but what a tap has changed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from django.utils.translation import gettext_lazy
from scipy.optimize import linear_sum_assignment

#: The jobs of a turn, with what a team reads.
JOBS = {
    "drive": gettext_lazy("sets the robot down and starts it"),
    "type": gettext_lazy("types the numbers in"),
    "measure": gettext_lazy("measures with the tape"),
    "log": gettext_lazy("logs the run here"),
}


@dataclass(frozen=True)
class JobTurn:
    """A turn: who was there, in a lasting order, and the jobs that a tap has given."""

    members: tuple[int, ...]
    given: Mapping[str, int] = field(default_factory=dict)


def round_of_jobs(turns: Iterable[JobTurn]) -> list[dict[str, int]]:
    """Who has which job in each turn; a turn with nobody there has none."""
    done: Counter[tuple[int, str]] = Counter()
    shared = []
    for turn in turns:
        jobs = _next_jobs(turn.members, done)
        jobs |= {job: member for job, member in turn.given.items() if member in turn.members}
        done.update((member, job) for job, member in jobs.items())
        shared.append(jobs)
    return shared


def pass_on(jobs: Mapping[str, int], job: str, members: Sequence[int]) -> dict[str, int]:
    """The next child has this job; who had it takes over that child's first other job, if it has one."""
    had = jobs[job]
    following = members[(members.index(had) + 1) % len(members)]
    changed = {**jobs, job: following}
    swap = next((other for other, member in jobs.items() if member == following and other != job), None)
    if swap is not None and following != had:
        changed[swap] = had
    return changed


def _next_jobs(members: Sequence[int], done: Mapping[tuple[int, str], int]) -> dict[str, int]:
    if not members:
        return {}
    copies = -(-len(JOBS) // len(members))
    rows = [(member, copy) for copy in range(copies) for member in members]
    total = {member: sum(done.get((member, job), 0) for job in JOBS) for member in members}
    cost = np.array([[100 * done.get((m, job), 0) + 5 * total[m] + copy for job in JOBS] for m, copy in rows])
    chosen, columns = linear_sum_assignment(cost)
    names = list(JOBS)
    found = {names[column]: rows[row][0] for row, column in zip(chosen, columns, strict=True)}
    return {job: found[job] for job in JOBS}
