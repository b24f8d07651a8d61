"""How long the readiness board takes a coach, and what one more run costs, on clubs of two sizes and both databases.

The data are invented and seeded. Each measurement runs in a process of its own, on a test database that it makes and
takes away: SQLite in a temporary folder, PostgreSQL at HELMROOM_TEST_POSTGRES. Every team works in every tier, which is
more than a real club has open at once.
"""

from __future__ import annotations

import datetime as dt
import os
import random
import sys
import time
import uuid
from typing import Any

from benchmarks.figures import Figure, percentile
from benchmarks.own_database import gather_statistics, measured_once, print_measured

POSTGRES = os.environ.get("HELMROOM_TEST_POSTGRES", "postgres://postgres@127.0.0.1:5432/test")
SMALL = (12, 3, 2_000)
LARGE = (40, 10, 100_000)
WARM, MEASURED, ROUNDS = 5, 60, 3
BAR_S = 0.15


def board(size: tuple[int, int, int], database: str = "") -> Figure:
    found = measured_once(__name__, size, database)
    name = "PostgreSQL" if database else "SQLite"
    note = (
        f"p95 of {MEASURED} page loads (best of {ROUNDS} rounds) on {name}, {size[0]} teams x {size[1]} missions x "
        f"{size[2]:,} attempts; median {found['median']:.3f} s, processor {found['cpu']:.3f} s, "
        f"{found['queries']} queries, {found['bytes'] // 1024} kB"
    )
    return Figure(found["p95"], "s", BAR_S, note)


def saving() -> Figure:
    """Saving one more run after 2,000 runs in the same tier, against after 20."""
    found = measured_once(__name__, (1, 1, 2_000))
    note = f"median to save a run after 2,000 in its tier over after 20; {found['after_many'] * 1000:.1f} ms"
    return Figure(found["after_many"] / found["after_few"], "x", 1.5, note)


FIGURES = {
    "foundation.board_p95": lambda: board(SMALL),
    "coach.board_p95_small_postgresql": lambda: board(SMALL, POSTGRES),
    "coach.board_p95_sqlite": lambda: board(LARGE),
    "coach.board_p95_postgresql": lambda: board(LARGE, POSTGRES),
    "coach.run_saved_ratio": saving,
}


# What the child process does


def measure(teams: int, missions: int, attempts: int) -> dict[str, Any]:
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    club, coach, editions = populate(teams, missions, attempts)
    gather_statistics()
    client = Client()
    client.force_login(coach.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    for _ in range(WARM):
        assert client.get("/").status_code == 200
    rounds = [sorted(_load(client) for _ in range(MEASURED)) for _ in range(ROUNDS)]
    times = min(rounds, key=lambda one: percentile(one, 0.95))
    begun = time.process_time()
    response = client.get("/")
    cpu = time.process_time() - begun
    with CaptureQueriesContext(connection) as queries:
        client.get("/")
    found = {"p95": percentile(times, 0.95), "median": percentile(times, 0.5), "queries": len(queries)}
    found |= {"bytes": len(response.content), "cpu": cpu}
    if teams == 1:
        found |= measure_saving(club, editions)
    return found


def _load(client: Any) -> float:
    begun = time.perf_counter()
    client.get("/")
    return time.perf_counter() - begun


def measure_saving(club: Any, editions: list[Any]) -> dict[str, float]:
    from missions.readiness.services.evidence import refresh_evidence
    from tests import factories as make

    many = club.teams.get()
    few = make.TeamFactory(club=club, name="Newcomer")
    progress = make.ProgressFactory(team=few, tier=editions[0].tier)
    now = dt.datetime.now(dt.UTC)
    add_runs([(few, editions[0])], 20, now)
    refresh_evidence(progress, now)
    return {"after_many": _median_save(many, editions[0], now), "after_few": _median_save(few, editions[0], now)}


def _median_save(team: Any, edition: Any, now: dt.datetime) -> float:
    from missions.runs.services.record_attempt import AttemptInput, record_attempt

    times = []
    for i in range(40):
        at = now + dt.timedelta(seconds=i)
        outcomes = {"left_base": True, "done": True, "home": True}
        run = AttemptInput(uuid.uuid4(), edition.tier_id, at, 41.0, outcomes)
        begun = time.perf_counter()
        record_attempt(team, run, now=at)
        times.append(time.perf_counter() - begun)
    return percentile(times, 0.5)


def populate(teams: int, missions: int, attempts: int) -> tuple[Any, Any, list[Any]]:
    """A club whose every team works in every tier of every mission, with the evidence kept for each."""
    from missions.models import Progress
    from missions.readiness.services.evidence import refresh_evidence
    from tests import factories as make

    now = dt.datetime.now(dt.UTC)
    club = make.ClubFactory()
    coach = make.CoachFactory(club=club)
    birds = [make.TeamFactory(club=club, name=f"Wader {i}", order=i) for i in range(teams)]
    for bird in birds:
        robot = make.RobotAssignmentFactory(team=bird, robot__changed_at=now - dt.timedelta(days=99)).robot
        make.CalibrationFactory(robot=robot, measured_at=now - dt.timedelta(days=98))
    editions = []
    for _ in range(missions):
        editions += make.mission_with_tiers(club, published_at=now - dt.timedelta(days=99))[1]
    if teams == 1:
        editions = editions[:1]
    cells = [(bird, edition) for bird in birds for edition in editions]
    add_runs(cells, attempts, now)
    for bird, edition in cells:
        opened = now - dt.timedelta(days=80)
        progress = Progress.objects.create(
            team=bird, tier=edition.tier, state="working", opened_at=opened, updated_at=opened
        )
        refresh_evidence(progress, now)
    return club, coach, editions


def add_runs(cells: list[tuple[Any, Any]], attempts: int, now: dt.datetime) -> None:
    """Runs dealt round the cells over the last 60 days, each team with its own seeded rate."""
    from classroom.models import RobotAssignment
    from missions.models import Attempt

    chance = random.Random(20261118)
    rates = [chance.uniform(0.3, 0.95) for _ in cells]
    robots = {row.team_id: row.robot_id for row in RobotAssignment.objects.all()}
    rows = []
    for i in range(attempts):
        team, edition = cells[i % len(cells)]
        success = chance.random() < rates[i % len(cells)]
        at = now - dt.timedelta(days=60) * (1 - i / attempts)
        rows.append(
            Attempt(
                uuid=uuid.uuid4(),
                team=team,
                tier_id=edition.tier_id,
                tier_version=edition,
                robot_id=robots.get(team.pk),
                plan_number=1,
                made_at=at,
                received_at=at,
                duration_s=chance.uniform(40, 90),
                outcomes={"left_base": True, "done": success, "home": True},
                success=success,
                lateral_mm=chance.gauss(0, 25),
                along_mm=chance.gauss(0, 15),
                cause="" if success else "turned_too_far",
            )
        )
    Attempt.objects.bulk_create(rows, batch_size=2_000)


if __name__ == "__main__":
    print_measured(measure, *sys.argv[1:4])
