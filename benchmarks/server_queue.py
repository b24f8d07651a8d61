"""A server's queue: two workers against one, and what a club waits that asks one thing while another has asked for 500.

Real worker processes (``manage.py work``) on a PostgreSQL and a Redis of their own. Planning is stood in for by ``PLAN_S`` of
processor time, so that what is measured is the queue and not a mission; ratio and wait come from the rows' own times. The machine
must be quiet. HELMROOM_BENCH_PLANS sets another number of plans, for trying the benchmark itself; the note says so.
"""

from __future__ import annotations

import contextlib
import functools
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from benchmarks.figures import Figure, percentile

PLANS = int(os.environ.get("HELMROOM_BENCH_PLANS", "200"))
#: Of the club that asks for much, and of the others, each once.
MANY, ONES = PLANS * 5 // 2, max(4, PLANS // 10)
PLAN_S = 0.4
ROOT = Path(__file__).resolve().parent.parent


@contextlib.contextmanager
def own_server() -> Iterator[Any]:
    """The environment of its processes, and ``rows(question)``; everything is gone afterwards."""
    import psycopg

    from tests.faults.own_servers import Postgres, Redis

    with tempfile.TemporaryDirectory(prefix="helmroom-bench-") as name:
        folder = Path(name)
        folder.chmod(0o711)  # PostgreSQL's own user passes through
        postgres, redis = Postgres(folder / "postgres"), Redis(folder)
        postgres.start()
        redis.start()
        (folder / "control").mkdir()
        env = os.environ | {
            "DJANGO_SETTINGS_MODULE": "tests.faults.laptop_settings",
            "HELMROOM_DATA": str(folder / "data"),
            "NUMBA_CACHE_DIR": str(folder / "numba"),
            "DATABASE_URL": postgres.address,
            "HELMROOM_BROKER": redis.address,
            "FAULTS_CONTROL": str(folder / "control"),
            "FAULTS_JOB_S": str(PLAN_S),
            "FAULTS_BUSY": "1",
        }
        (folder / "data").mkdir(mode=0o700)

        def rows(question: str) -> list[tuple[Any, ...]]:
            with psycopg.connect(postgres.address) as line:
                return line.execute(question).fetchall()  # type: ignore[arg-type]

        try:
            for command in (["manage.py", "migrate", "--verbosity", "0"], ["manage.py", "warm"]):
                subprocess.run([sys.executable, *command], cwd=ROOT, env=env, check=True, stdout=subprocess.DEVNULL)
            yield env, rows
        finally:
            redis.stop()
            postgres.stop("immediate")


@contextlib.contextmanager
def working(env: dict[str, str], workers: int) -> Iterator[None]:
    command = [sys.executable, "manage.py", "work", "--workers", str(workers)]
    process = subprocess.Popen(command, cwd=ROOT, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        yield
    finally:
        process.terminate()
        process.wait(60)


def ask(env: dict[str, str], clubs: int, each: int, pause_s: float = 0.0) -> None:
    """As many new clubs, one after the other, each asking for so many plans."""
    told = [str(clubs), str(each), str(pause_s)]
    subprocess.run([sys.executable, "-m", "benchmarks.server_queue", *told], cwd=ROOT, env=env, check=True)


def wait_until_done(rows: Any, jobs: int) -> None:
    while rows("select count(*) from planning_job where state = 'done'")[0][0] < jobs:
        time.sleep(0.5)


def seconds_for(workers: int) -> float:
    """From the first plan's beginning to the last one's end."""
    with own_server() as (env, rows):
        ask(env, 4, PLANS // 4)
        with working(env, workers):
            wait_until_done(rows, PLANS // 4 * 4)
        ((took,),) = rows("select extract(epoch from max(finished_at) - min(started_at)) from planning_job")
        return float(took)


def two_workers() -> Figure:
    one, two = seconds_for(1), seconds_for(2)
    note = f"{one:.1f} s by one worker, {two:.1f} s by two; {PLANS} plans of {PLAN_S} s of processor time for 4 clubs{_load()}"
    return Figure(one / two, "times as fast", 1.7, note, at_least=True)


@functools.cache
def waits_of_others() -> list[float]:
    with own_server() as (env, rows):
        ask(env, 1, MANY)
        with working(env, 2):
            wait_until_done(rows, 4)
            ask(env, ONES, 1, pause_s=1.0)
            ((left,),) = rows("select count(*) from planning_job where state = 'waiting'")
            if not left:
                raise RuntimeError("the club that asked for much was served before the others had asked")
            wait_until_done(rows, MANY + ONES)
        first = rows("select min(club_id) from planning_job")[0][0]
        waited = "extract(epoch from started_at - created_at)"
        return [float(row[0]) for row in rows(f"select {waited} from planning_job where club_id > {first}")]


def other_club_wait() -> Figure:
    waits = waits_of_others()
    note = (
        f"p95 of {len(waits)} clubs that ask for one plan each, by 2 workers, while another waits for {MANY}; plans of {PLAN_S} s of "
        f"processor time; median {percentile(waits, 0.5):.2f} s{_load()}"
    )
    return Figure(percentile(waits, 0.95), "s", 3.0, note)


def _load() -> str:
    small = "" if PLANS == 200 else "; fewer plans than the figure is for"
    return f"; the machine's load at the end was {os.getloadavg()[0]:.0f}{small}"


FIGURES = {"server.two_workers_speed": two_workers, "server.other_club_wait_p95": other_club_wait}


def main(clubs: int, each: int, pause_s: float) -> None:
    """In a process of the server: the clubs are there, and have asked by the service that pages use."""
    import django

    django.setup()
    from django.utils import timezone

    from planning.courses.services.plan_team_course import PLAN_COURSE
    from planning.jobs.services.ask_for_job import ask_for_job
    from tests import factories as make

    for _ in range(clubs):
        club = make.ClubFactory()
        for number in range(each):
            question = {"team": number, "aim": "fastest", "alternatives": 1}
            ask_for_job(club, PLAN_COURSE, question, now=timezone.now())
        time.sleep(pause_s)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3]))
