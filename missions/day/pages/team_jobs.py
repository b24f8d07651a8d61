"""A team's jobs of its turn, for its own tablet: nicknames only, and only while the club meets."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Q
from django.utils import timezone

from classroom.models import Attendance, Membership, Session, Team
from missions.day.rules.job_round import JOBS, JobTurn, round_of_jobs
from missions.day.services.plan_rota import clock_of, run_read_with
from missions.day.sessions import AROUND, sessions_of
from missions.models import RotaTurn, TeamJob


@dataclass(frozen=True)
class JobLine:
    """One job: ``who`` has it. ``can_pass`` when another child is there to take it."""

    job: str
    words: str
    member: int
    who: str


@dataclass(frozen=True)
class TeamJobs:
    session: Session
    slot: int
    starts: dt.datetime | None
    lines: tuple[JobLine, ...]
    members: tuple[int, ...]
    by_tap: bool

    @property
    def can_pass(self) -> bool:
        return len(self.members) > 1


def jobs_now(team: Team, now: dt.datetime) -> TeamJobs | None:
    """Of the turn that the team has now, else its next, else its last; None away from sessions or without children."""
    on = sessions_of(team.club).filter(starts_at__lte=now + AROUND, ends_at__gte=now - AROUND).order_by("starts_at")
    session = on.first()
    if session is None:
        return None
    day = clock_of(run_read_with(session, now))
    rows = RotaTurn.objects.filter(session__term=session.term_id, team=team, session__starts_at__lte=session.starts_at)
    slots: dict[int, set[int]] = defaultdict(set)
    days: dict[int, dt.date] = {session.pk: timezone.localdate(session.starts_at)}
    for pk, starts_at, slot in rows.order_by("session__starts_at").values_list("session", "session__starts_at", "slot"):
        slots[pk].add(slot)
        days[pk] = timezone.localdate(starts_at)
    own = sorted(slots[session.pk])
    present = day.slot_at(now)
    slot = next((s for s in own if s >= present), own[-1] if own else 0)
    slots[session.pk].add(slot)
    return _of_slot(team, session, slots, days, slot, day.starts(slot) if slot in own else None)


def _of_slot(
    team: Team,
    session: Session,
    slots: dict[int, set[int]],
    days: dict[int, dt.date],
    slot: int,
    starts: dt.datetime | None,
) -> TeamJobs | None:
    memberships, places, turns = _turns_of(team, slots, days, last=session.pk)
    here = places.index((session.pk, slot))
    jobs = round_of_jobs(turns)[here]
    if not jobs:
        return None
    names = {each.member_id: each.member.nickname for each in memberships}
    lines = tuple(JobLine(job, str(JOBS[job]), member, names[member]) for job, member in jobs.items())
    return TeamJobs(session, slot, starts, lines, turns[here].members, bool(turns[here].given))


@dataclass(frozen=True)
class DoneTurn:
    """A turn of a session that is over: who had which job, of those who were marked as here."""

    session: int
    slot: int
    jobs: dict[str, int]


def turns_done(team: Team, now: dt.datetime) -> list[DoneTurn]:
    """The team's turns of the term so far, oldest first. A child whose presence nobody marked is said to have done nothing."""
    over = sessions_of(team.club).filter(ends_at__lte=now).order_by("-starts_at")
    latest = over.first()
    if latest is None:
        return []
    days = {s.pk: timezone.localdate(s.starts_at) for s in over.filter(term=latest.term_id)}
    slots: dict[int, set[int]] = defaultdict(set)
    for rows in (RotaTurn.objects, TeamJob.objects):
        for pk, slot in rows.filter(team=team, session__in=days).values_list("session", "slot"):
            slots[pk].add(slot)
    days = {pk: day for pk, day in days.items() if pk in slots}
    _, places, turns = _turns_of(team, slots, days)
    here = set(Attendance.objects.filter(session__in=days, present=True).values_list("session", "member"))
    return [
        DoneTurn(session, slot, {job: member for job, member in jobs.items() if (session, member) in here})
        for (session, slot), jobs in zip(places, round_of_jobs(turns), strict=True)
    ]


def _turns_of(
    team: Team, slots: dict[int, set[int]], days: dict[int, dt.date], last: int | None = None
) -> tuple[list[Membership], list[tuple[int, int]], list[JobTurn]]:
    """The team's turns in the order in which the jobs go round; ``last``: of two sessions of a day, this one comes after."""
    memberships = list(Membership.objects.filter(team=team).select_related("member").order_by("joined_on", "pk"))
    children = {each.member_id for each in memberships}
    marks = Attendance.objects.filter(Q(session__in=days), member__in=children, present=False)
    missing = set(marks.values_list("session", "member"))
    given: dict[tuple[int, int], dict[str, int]] = defaultdict(dict)
    for pk, at, job, member in TeamJob.objects.filter(team=team, session__in=days).values_list(
        "session", "slot", "job", "member"
    ):
        given[pk, at][job] = member
    turns, places = [], []
    for pk in sorted(days, key=lambda pk: (days[pk], pk == last, pk)):
        on_day = [m for m in memberships if m.joined_on <= days[pk] and (m.left_on is None or m.left_on >= days[pk])]
        there = tuple(dict.fromkeys(m.member_id for m in on_day if (pk, m.member_id) not in missing))
        for at in sorted(slots[pk]):
            turns.append(JobTurn(there, given[pk, at]))
            places.append((pk, at))
    return memberships, places, turns
