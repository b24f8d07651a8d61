"""Whether a screen costs more when a hundred times as many runs of other clubs stand in the same PostgreSQL.

One club is made as clubs are, and its copies stand beside it (``many_clubs.py``): ten clubs with 10,000 runs, or a thousand with
1,000,000. What is asked is about the one club each time, so that only what lies around it differs. Each size is measured in a
PostgreSQL of its own that is gone afterwards. HELMROOM_BENCH_CLUBS sets another number of clubs; the note says how many.
"""

from __future__ import annotations

import functools
import json
import os
import secrets
import subprocess
import sys
import time
from typing import Any

from benchmarks.figures import Figure, percentile
from benchmarks.server_queue import ROOT, own_server

FEW, MANY = 10, int(os.environ.get("HELMROOM_BENCH_CLUBS", "1000"))
TEAMS, MISSIONS, RUNS = 10, 1, 1_000
WARM, MEASURED, ROUNDS = 10, 60, 5
BAR = 1.5
SCREENS = ("board", "today", "team", "family", "save")


@functools.cache
def measured(clubs: int) -> dict[str, Any]:
    with own_server() as (env, _):
        env = env | {
            "DJANGO_SETTINGS_MODULE": "config.settings.server",
            "HELMROOM_SECRET": secrets.token_urlsafe(50),
            "HELMROOM_HOSTS": "club.example",
        }
        collect = [sys.executable, "manage.py", "collectstatic", "--noinput", "--verbosity", "0"]
        subprocess.run(collect, cwd=ROOT, env=env, check=True)
        command = [sys.executable, "-m", "benchmarks.server_scale", str(clubs)]
        done = subprocess.run(command, cwd=ROOT, env=env, stdout=subprocess.PIPE, text=True, check=True)
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def ratio(screen: str) -> Figure:
    few, many = measured(FEW), measured(MANY)
    note = (
        f"p95 of {MEASURED} requests (best of {ROUNDS} rounds) with {many['runs']:,} runs of {many['clubs']:,} clubs "
        f"({many[screen] * 1000:.1f} ms) over {few['runs']:,} of {few['clubs']} ({few[screen] * 1000:.1f} ms); PostgreSQL, "
        f"{many['bytes'] / 1e9:.2f} GB; load {os.getloadavg()[0]:.0f}"
    )
    return Figure(many[screen] / few[screen], "times as long", BAR, note)


FIGURES = {f"server.scale_{screen}": functools.partial(ratio, screen) for screen in SCREENS}


# What the child process does


def main(clubs: int) -> None:
    import django

    django.setup()
    from django.db import connection
    from django.utils import timezone

    from benchmarks.many_clubs import multiply
    from benchmarks.own_database import gather_statistics
    from benchmarks.server_views import asked
    from benchmarks.working_club import signed_in, working_club

    made = working_club(TEAMS, MISSIONS, RUNS, now=timezone.now())
    here = signed_in(made)
    multiply(clubs)
    gather_statistics()
    requests = asked(here)
    found: dict[str, Any] = {name: p95_of(requests[name]) for name in SCREENS}
    with connection.cursor() as cursor:
        cursor.execute("select count(*), pg_database_size(current_database()) from missions_attempt")
        found["runs"], found["bytes"] = cursor.fetchone()
    print(json.dumps(found | {"clubs": clubs}))


def p95_of(ask: Any) -> float:
    """By the clock on the wall: what the database does is in it."""
    rounds = []
    for _ in range(ROUNDS):
        for _ in range(WARM):
            ask()
        took = []
        for _ in range(MEASURED):
            begun = time.perf_counter()
            ask()
            took.append(time.perf_counter() - begun)
        rounds.append(percentile(took, 0.95))
    return min(rounds)


if __name__ == "__main__":
    main(int(sys.argv[1]))
