"""A real site for the tablet's benchmarks: waitress with four threads on SQLite with full syncing, in its own process.

``python -m benchmarks.tablet_server TEAMS`` makes an invented club in a temporary data folder, serves it, and prints one
JSON line with the port and every sign-in; it ends when its standard input does.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from typing import Any

from benchmarks.own_database import session_of, session_with

THREADS = 4


@contextlib.contextmanager
def tablet_site(teams: int) -> Iterator[dict[str, Any]]:
    """``port``, ``club`` (its key), ``coach`` (a session key), and for each team its ``team``, ``tier`` and ``session``; ``rows()`` counts."""
    with tempfile.TemporaryDirectory(prefix="helmroom-bench-") as folder:
        env = os.environ | {"DJANGO_SETTINGS_MODULE": "config.settings.local", "HELMROOM_DATA": folder}
        env.pop("DATABASE_URL", None)
        process = subprocess.Popen(
            [sys.executable, "-m", "benchmarks.tablet_server", str(teams)],
            env=env,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert process.stdin and process.stdout
        try:
            line = process.stdout.readline()
            if not line:
                raise RuntimeError("the benchmark's site did not start")
            yield json.loads(line) | {"folder": folder}
        finally:
            process.stdin.close()
            process.wait(20)


def rows(site: dict[str, Any], table: str) -> int:
    import sqlite3

    with contextlib.closing(sqlite3.connect(f"{site['folder']}/helmroom.sqlite3")) as database:
        return int(database.execute(f"select count(*) from {table}").fetchone()[0])


# What the child process does


def populate(teams: int) -> dict[str, Any]:
    from classroom.access import TABLET_KEY
    from tests import factories as make

    club = make.ClubFactory()
    coach = make.CoachFactory(club=club).user
    _, editions = make.mission_with_tiers(club)
    made = []
    for _ in range(teams):
        team = make.TeamFactory(club=club)
        make.RobotAssignmentFactory(team=team, robot=make.RobotFactory(club=club))
        make.ProgressFactory(team=team, tier=editions[1].tier)
        key = session_with(**{TABLET_KEY: make.TabletSessionFactory(team=team).pk})
        made.append({"team": team.pk, "tier": editions[1].tier.pk, "session": key})
    return {"club": club.pk, "teams": made, "coach": session_of(coach)}


def main(teams: int) -> None:
    import django

    django.setup()
    from django.core.management import call_command
    from django.core.wsgi import get_wsgi_application

    from config.process.bodies import create_site_server
    from config.process.static_files import collect_static_files
    from planning.preparing.kernels import compile_as_called

    compile_as_called()  # what the figures time comes after a warm-up
    # A queue that is longer than the threads are many is what is being measured, not news.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    collect_static_files()
    call_command("migrate", verbosity=0, interactive=False)
    made = populate(teams)
    server = create_site_server(get_wsgi_application(), host="127.0.0.1", port=0, threads=THREADS, ident=None)
    print(json.dumps(made | {"port": server.effective_port}), flush=True)
    threading.Thread(target=server.run, daemon=True).start()
    sys.stdin.read()
    os._exit(0)


if __name__ == "__main__":
    main(int(sys.argv[1]))
