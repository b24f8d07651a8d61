"""What a child itself did in its team: the jobs of its turns. Told only where the club's switch is on, which begins as off."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass

from classroom.models import Member, Team
from missions.day.pages.team_jobs import DoneTurn, turns_done
from missions.day.rules.job_round import JOBS
from missions.family.sentences import job_count_words


@dataclass(frozen=True)
class JobCount:
    job: str
    words: str
    turns: int


def jobs_of(member: Member, team: Team, now: dt.datetime) -> tuple[JobCount, ...]:
    """The jobs that a child had in the turns at which it was marked as here, in the order of the jobs, not of their number."""
    counts = Counter(job for turn in turns_done(team, now) for job, who in turn.jobs.items() if who == member.pk)
    return tuple(JobCount(job, job_count_words(job, counts[job]), counts[job]) for job in JOBS if counts[job])


def one_job_each(turns: list[DoneTurn], members: list[int]) -> dict[int, tuple[str, int]]:
    """For each child one job that it had, and how often: as far as it goes, no two of a team the same.

    The rarest first: whoever had one job only is not left without because another, who had several, took it.
    """
    counts: dict[int, Counter[str]] = {member: Counter() for member in members}
    for turn in turns:
        for job, who in turn.jobs.items():
            if who in counts:
                counts[who][job] += 1
    chosen: dict[int, tuple[str, int]] = {}
    taken: Counter[str] = Counter()
    for member in sorted(members, key=lambda who: (len(counts[who]), members.index(who))):
        own = counts[member]
        if own:
            job = min(own, key=lambda each: (taken[each], -own[each], list(JOBS).index(each)))
            taken[job] += 1
            chosen[member] = (job, own[job])
    return chosen
