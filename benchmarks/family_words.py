"""What families cost: drafts for 500 children as a job, and a copy of the database made while forty tablets save runs.

The drafts are made in a database of their own, of an invented club whose every team has runs, tiers passed and open, ten
sessions with turns at the tables, and a history of jobs that the club tells. The copy is made by ``manage.py backup`` in a
process of its own, over and over, beside the load of ``tablet.save``.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import functools
import os
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

from benchmarks.coach_board import POSTGRES, populate
from benchmarks.figures import Figure, percentile
from benchmarks.own_database import gather_statistics, measured_once, print_measured
from benchmarks.tablet_server import rows, tablet_site
from benchmarks.tablet_sync import SECONDS, TABLETS, save_together, warm_up

TEAMS, CHILDREN_OF_ONE, MISSIONS, RUNS, SESSIONS = 100, 5, 3, 10_000, 10
DRAFTS_BAR_S, SAVING_BAR_S = 30, 0.150


# 500 drafts


def drafts(database: str = "") -> Figure:
    found = measured_once(__name__, (TEAMS, MISSIONS, RUNS), database)
    note = (
        f"{found['drafted']} children of {TEAMS} teams, {RUNS:,} runs, {'PostgreSQL' if database else 'SQLite'}; one job, from "
        f"asking to its end; {found['cpu_s']:.1f} s of processor"
    )
    return Figure(found["s"], "s", DRAFTS_BAR_S, note)


def measure(teams: int, missions: int, attempts: int) -> dict[str, Any]:
    from django.utils import timezone

    from classroom.models import Club, SummaryWords
    from planning.jobs.services.family_drafts import ask_for_drafts
    from planning.jobs.services.run_job import run_job

    club, coach, _ = populate(teams, missions, attempts)
    Club.objects.update(tells_jobs=True)
    _add_children_and_turns(club)
    gather_statistics()
    begun, used = time.perf_counter(), time.process_time()
    job = ask_for_drafts(coach, now=timezone.now())
    run_job(job.pk)
    took, cpu_s = time.perf_counter() - begun, time.process_time() - used
    return {"s": took, "cpu_s": cpu_s, "drafted": SummaryWords.objects.count()}


def _add_children_and_turns(club: Any) -> None:
    from classroom.models import Attendance, Membership
    from missions.models import Progress, RotaTurn
    from tests import factories as make

    now = dt.datetime.now(dt.UTC)
    term = make.TermFactory(
        club=club, starts_on=(now - dt.timedelta(days=90)).date(), ends_on=(now + dt.timedelta(days=9)).date()
    )
    for team in club.teams.all():
        make.MembershipFactory.create_batch(
            CHILDREN_OF_ONE, team=team, joined_on=(now - dt.timedelta(days=90)).date(), member__club=club
        )
    first = Progress.objects.filter(team__club=club).order_by("team", "pk").distinct()
    for progress in {row.team_id: row for row in first}.values():
        Progress.objects.filter(pk=progress.pk).update(state="passed", passed_at=now - dt.timedelta(days=30))
    children = list(Membership.objects.filter(team__club=club))
    for week in range(SESSIONS):
        at = now - dt.timedelta(days=7 * (week + 1))
        session = make.SessionFactory(term=term, starts_at=at, ends_at=at + dt.timedelta(minutes=90))
        Attendance.objects.bulk_create(
            Attendance(session=session, member_id=row.member_id, present=(n + week) % 9 != 0)
            for n, row in enumerate(children)
        )
        tables = [make.TableFactory(club=club) for _ in range(25)]
        RotaTurn.objects.bulk_create(
            RotaTurn(session=session, slot=n // 25, table=tables[n % 25], team=team)
            for n, team in enumerate(club.teams.all())
        )


# A copy while tablets save


@functools.cache
def copies() -> dict[str, Any]:
    """One round of saving while copies are made without a pause; what the last of them holds."""
    with tablet_site(TABLETS) as site, tempfile.TemporaryDirectory() as folder:
        warm_up(site)
        before = rows(site, "missions_attempt")
        over, made, used = threading.Event(), list[Path](), list[float]()
        env = os.environ | {"DJANGO_SETTINGS_MODULE": "config.settings.local", "HELMROOM_DATA": site["folder"]}
        env.pop("DATABASE_URL", None)

        def copy() -> None:
            while not over.is_set():
                file, begun = Path(folder) / f"{len(made)}.sqlite3", time.perf_counter()
                subprocess.run(
                    [sys.executable, "manage.py", "backup", str(file)], env=env, check=True, capture_output=True
                )
                used.append(time.perf_counter() - begun)
                made.append(file)

        beside = threading.Thread(target=copy)
        beside.start()
        found = save_together(site)
        over.set()
        beside.join()
        kept = rows(site, "missions_attempt") - before
        whole = all(_is_whole(file) for file in made)
        return found | {"kept": kept, "copies": len(made), "whole": whole, "took": max(used)}


def _is_whole(file: Path) -> bool:
    with contextlib.closing(sqlite3.connect(file)) as copy:
        return bool(copy.execute("PRAGMA integrity_check").fetchone()[0] == "ok")


def saving_beside() -> Figure:
    found = copies()
    note = (
        f"p95 over {len(found['saved'])} saves in {SECONDS} s of {TABLETS} tablets while manage.py backup made {found['copies']} "
        f"copies without a pause, the slowest in {found['took']:.1f} s; SQLite; median {percentile(found['saved'], 0.5):.3f} s"
    )
    return Figure(percentile(found["saved"], 0.95), "s", SAVING_BAR_S, note)


def lost_beside() -> Figure:
    found = copies()
    # More rows than answers are no loss: a tablet that has waited in vain sends again, and that counts once.
    wrong = len(found["refused"]) + max(0, len(found["saved"]) - found["kept"]) + (0 if found["whole"] else 1)
    note = f"saves refused, answers without a row, or copies that are not whole: {len(found['saved'])} answers, {found['kept']} rows"
    return Figure(float(wrong), "runs", 0.0, note)


FIGURES = {
    "family.drafts_sqlite": drafts,
    "family.drafts_postgresql": lambda: drafts(POSTGRES),
    "family.backup_save_p95": saving_beside,
    "family.backup_lost": lost_beside,
}

if __name__ == "__main__":
    print_measured(measure, *sys.argv[1:])
