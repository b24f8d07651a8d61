"""How long Today takes a coach, and how little a quiet poll costs, on a large club and both databases.

The same invented club as the board's (40 teams, 10 missions, 100,000 runs), with five children a team, twelve sessions,
six tables and a full rota. Each measurement runs in a process of its own, on a database that it makes and takes away.
"""

from __future__ import annotations

import datetime as dt
import sys
import time
from typing import Any

from benchmarks.coach_board import LARGE, POSTGRES, populate
from benchmarks.figures import Figure, percentile
from benchmarks.own_database import gather_statistics, measured_once, print_measured

WARM, MEASURED, ROUNDS = 5, 60, 3
BAR_S = 0.15
CHILDREN, TABLES, SESSIONS, SLOTS = 5, 6, 12, 12


def today(database: str = "") -> Figure:
    found = measured_once(__name__, LARGE, database)
    note = (
        f"p95 of {MEASURED} loads of the whole page (best of {ROUNDS} rounds) on {'PostgreSQL' if database else 'SQLite'}, "
        f"{LARGE[0]} teams x {LARGE[1]} missions x {LARGE[2]:,} attempts; median {found['median']:.3f} s, processor {found['cpu']:.3f} s, live part p95 "
        f"{found['part_p95']:.3f} s, quiet poll p95 {found['quiet_p95']:.4f} s, {found['queries']} queries, "
        f"{found['bytes'] // 1024} kB"
    )
    return Figure(found["p95"], "s", BAR_S, note)


FIGURES = {
    "coach.today_p95_sqlite": lambda: today(),
    "coach.today_p95_postgresql": lambda: today(POSTGRES),
}


# What the child process does


def measure(teams: int, missions: int, attempts: int) -> dict[str, Any]:
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext
    from django.urls import reverse

    club, coach, editions = populate(teams, missions, attempts)
    session = an_afternoon(club, editions)
    gather_statistics()
    client = Client()
    client.force_login(coach.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    url = reverse("session", args=[session.pk])
    part = {"HX-Request": "true"}
    page = client.get(url)
    assert page.status_code == 200 and page.content.count(b"who-team") == teams and b"runs today" in page.content
    tag = client.get(url, headers=part).headers["ETag"]
    assert client.get(url, headers=part | {"If-None-Match": tag}).status_code == 304
    with CaptureQueriesContext(connection) as seen:
        client.get(url)
    queries = len(seen)
    begun = time.process_time()
    client.get(url)
    cpu = time.process_time() - begun
    whole = _rounds(lambda: client.get(url))
    return {
        "p95": percentile(whole, 0.95),
        "median": percentile(whole, 0.5),
        "part_p95": percentile(_rounds(lambda: client.get(url, headers=part)), 0.95),
        "quiet_p95": percentile(_rounds(lambda: client.get(url, headers=part | {"If-None-Match": tag})), 0.95),
        "queries": queries,
        "cpu": cpu,
        "bytes": len(page.content),
    }


def _rounds(load: Any) -> list[float]:
    for _ in range(WARM):
        load()
    rounds = []
    for _ in range(ROUNDS):
        times = []
        for _ in range(MEASURED):
            begun = time.perf_counter()
            load()
            times.append(time.perf_counter() - begun)
        rounds.append(times)
    return min(rounds, key=lambda one: percentile(one, 0.95))


def an_afternoon(club: Any, editions: list[Any]) -> Any:
    """Twelve sessions that share out the runs, the last one on now with a full rota, marks and notes."""
    from classroom.models import Attendance, ServiceNote, Table, Team
    from missions.day.services.safety_cards import ensure_safety_cards
    from missions.models import Attempt, PlannedMission, QuickNote, RotaTurn, SessionRun
    from tests import factories as make

    now = dt.datetime.now(dt.UTC)
    term = make.TermFactory(club=club, starts_on=now.date() - dt.timedelta(days=90), ends_on=now.date())
    sessions = []
    for week in range(SESSIONS):
        starts = now - dt.timedelta(days=5 * (SESSIONS - 1 - week), minutes=35)
        session = make.SessionFactory(term=term, starts_at=starts, ends_at=starts + dt.timedelta(minutes=10 * SLOTS))
        SessionRun.objects.create(session=session, started_at=starts, changed_at=starts)
        own = Attempt.objects.filter(
            made_at__gt=starts - dt.timedelta(days=5), made_at__lte=starts + dt.timedelta(hours=2)
        )
        own.update(session=session)
        sessions.append(session)
    session = sessions[-1]
    for mission in dict.fromkeys(edition.tier.mission for edition in editions):
        PlannedMission.objects.create(session=session, mission=mission)
    teams = list(Team.objects.filter(club=club))
    tables = [Table.objects.create(club=club, name=f"Table {n}", width_mm=2400, depth_mm=1200) for n in range(TABLES)]
    for slot in range(SLOTS):
        for number, table in enumerate(tables):
            team = teams[(slot * TABLES + number) % len(teams)]
            RotaTurn.objects.create(
                session=session,
                slot=slot,
                table=table,
                team=team,
                tier=editions[number].tier,
                layout=f"{number + slot % 3}",
            )
    for team in teams:
        for _ in range(CHILDREN):
            child = make.MembershipFactory(team=team, joined_on=term.starts_on).member
            Attendance.objects.create(session=session, member=child, present=True)
        robot = team.assignments.get().robot
        ServiceNote.objects.create(robot=robot, kind="battery", text="charge", on=now.date(), due_on=now.date())
        QuickNote.objects.create(session=session, team=team, text="Belt replaced.", at=now)
    ensure_safety_cards(club)
    return session


if __name__ == "__main__":
    print_measured(measure, *sys.argv[1:4])
