"""How long a club with 100,000 runs takes to go out as one file and to come in elsewhere, and in how much memory.

The same invented club as the board's. The commands that people type are measured, each in a process of its own and with
its start: out of a database that is made for it, into another, empty one. Memory is the most that the process ever held.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from benchmarks.coach_board import LARGE, POSTGRES, populate
from benchmarks.figures import Figure
from benchmarks.own_database import gather_statistics, measured_once, print_measured

EXPORT_BAR_S, IMPORT_BAR_S, MEMORY_BAR_MB = 20, 60, 300


def seconds(way: str, bar: float, database: str = "") -> Figure:
    found = measured_once(__name__, LARGE, database)
    note = f"manage.py {way}_club, {LARGE[2]:,} runs, {'PostgreSQL' if database else 'SQLite'}; {found['file_mb']:.1f} MB as a file"
    return Figure(found[way]["s"], "s", bar, note)


def memory(way: str, database: str = "") -> Figure:
    return Figure(
        measured_once(__name__, LARGE, database)[way]["mb"], "MB", MEMORY_BAR_MB, f"at most, of manage.py {way}_club"
    )


FIGURES = {
    "archive.export_sqlite": lambda: seconds("export", EXPORT_BAR_S),
    "archive.export_postgresql": lambda: seconds("export", EXPORT_BAR_S, POSTGRES),
    "archive.export_memory": lambda: memory("export"),
    "archive.export_memory_postgresql": lambda: memory("export", POSTGRES),
    "archive.import_sqlite": lambda: seconds("import", IMPORT_BAR_S),
    "archive.import_postgresql": lambda: seconds("import", IMPORT_BAR_S, POSTGRES),
    "archive.import_memory": lambda: memory("import"),
}


# What the child process does


def measure(teams: int, missions: int, attempts: int) -> dict[str, Any]:
    from django.db import connection

    club, _, _ = populate(teams, missions, attempts)
    gather_statistics()
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "club.gz"
        out = _command(_address(connection.settings_dict), folder, "export_club", str(club.pk), str(file))
        there = f"helmroom_bench_in_{os.getpid()}" if connection.vendor == "postgresql" else f"{folder}/there.sqlite3"
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute(f"CREATE DATABASE {there}")
        try:
            address = _address(connection.settings_dict | {"NAME": there})
            _command(address, folder, "migrate", "--verbosity=0")
            came = _command(address, folder, "import_club", str(file))
        finally:
            if connection.vendor == "postgresql":
                with connection.cursor() as cursor:
                    cursor.execute(f"DROP DATABASE {there}")
        return {"export": out, "import": came, "file_mb": file.stat().st_size / 1e6}


def _address(settings: dict[str, Any]) -> str:
    if settings["ENGINE"].endswith("sqlite3"):
        return f"sqlite:///{settings['NAME']}"
    password = f":{settings['PASSWORD']}" if settings["PASSWORD"] else ""
    return f"postgres://{settings['USER']}{password}@{settings['HOST']}:{settings['PORT']}/{settings['NAME']}"


#: A command, and then the most memory that its process held: what the parent held is not counted to it.
_TOLD = """
import sys
from pathlib import Path
from django.core.management import execute_from_command_line
execute_from_command_line(["manage.py", *sys.argv[1:]])
print(next(line.split()[1] for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM")))
"""


def _command(database: str, folder: str, *command: str) -> dict[str, float]:
    """How long it took and the most memory that it held."""
    env = os.environ | {"DATABASE_URL": database, "HELMROOM_DATA": folder}
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", _TOLD, *command], env=env, stdout=subprocess.PIPE, text=True, check=True
    )
    return {"s": time.perf_counter() - begun, "mb": int(done.stdout.split()[-1]) / 1024}


if __name__ == "__main__":
    print_measured(measure, *sys.argv[1:4])
