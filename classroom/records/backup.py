"""A copy of the whole database in one file, made while others write, and put back into an empty one.

SQLite: ``VACUUM INTO`` (https://sqlite.org/lang_vacuum.html#vacuuminto): one snapshot, without free pages. PostgreSQL: its own
``pg_dump`` and ``pg_restore`` (one snapshot as well). Either is opened and counted before it is called a copy.
"""

from __future__ import annotations

import datetime as dt
import os
import sqlite3
import subprocess
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.db import connection

from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.models import Club

#: So many daily copies stay.
DAYS = 7

_NO_COPY = "This file is no copy of helmroom's database, or it is damaged. Nothing was changed."


def backup(file: Path) -> dict[str, int]:
    """Write the copy; how many rows of each table are in it.

    Raises
    ------
    ConflictError
        ``there_already``: a copy never replaces a file.
    InputError
        ``not_a_copy``: PostgreSQL's own program is not there or did not work.
    """
    if file.exists():
        raise ConflictError(ClassroomCode.THERE_ALREADY, f"{file} is there already; give the copy another name.")
    file.parent.mkdir(parents=True, exist_ok=True)
    half = file.with_name(f"{file.name}.half")
    half.unlink(missing_ok=True)
    try:
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                cursor.execute("VACUUM INTO %s", [str(half)])
            counts = _counts_of_file(half)
        else:
            _run(["pg_dump", "--format=custom", "--no-owner", f"--file={half}", _database_name()])
            counts = counts_now()
            _run(["pg_restore", "--list", str(half)])
        half.chmod(0o600)
        half.rename(file)
    finally:
        half.unlink(missing_ok=True)
    return counts


def restore(file: Path) -> dict[str, int]:
    """Put a copy into the empty database; how many rows of each table are there now.

    Raises
    ------
    ConflictError
        ``there_already``: there is a club already.
    InputError
        ``not_a_copy``, ``not_there``.
    """
    if not file.is_file():
        raise InputError(ClassroomCode.NOT_A_COPY, f"There is no file {file}.")
    tables = connection.introspection.table_names()
    if Club._meta.db_table in tables and Club.objects.exists():
        raise ConflictError(
            ClassroomCode.THERE_ALREADY, "There is a club here already. Restore into an empty data folder or database."
        )
    if connection.vendor == "sqlite":
        counts = _counts_of_file(file)
        connection.ensure_connection()
        with sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True) as source:
            source.backup(connection.connection)
        _same(counts, counts_now())
    else:
        _run(["pg_restore", "--list", str(file)])
        _run(
            [
                "pg_restore",
                "--clean",
                "--if-exists",
                "--no-owner",
                "--single-transaction",
                "--dbname",
                _database_name(),
                str(file),
            ]
        )
        counts = counts_now()
    call_command("migrate", verbosity=0, interactive=False)  # a copy of an older helmroom grows up
    return counts


def keep_daily_copies(folder: Path, today: dt.date) -> Path | None:
    """Today's copy, unless it is there; of all before it the newest stay. None where the database is no file."""
    if connection.vendor != "sqlite":
        return None
    file = folder / f"helmroom-{today:%Y-%m-%d}.sqlite3"
    if not file.exists():
        backup(file)
    for old in sorted(folder.glob("helmroom-????-??-??.sqlite3"))[:-DAYS]:
        old.unlink()
    for old in folder.glob("helmroom-????-??-??.sqlite3"):  # a laptop that was off for weeks keeps none of before
        if dt.date.fromisoformat(old.stem[-10:]) <= today - dt.timedelta(days=DAYS):
            old.unlink()
    return file


def counts_now() -> dict[str, int]:
    """Rows of each table of the database in use."""
    with connection.cursor() as cursor:
        counts = {}
        for table in sorted(connection.introspection.table_names(cursor)):
            cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")
            counts[table] = cursor.fetchone()[0]
    return counts


def _counts_of_file(file: Path) -> dict[str, int]:
    """Opened, looked through and counted."""
    try:
        with sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True) as copy:
            if copy.execute("PRAGMA integrity_check").fetchone() != ("ok",):
                raise InputError(ClassroomCode.NOT_A_COPY, _NO_COPY)
            names = [name for (name,) in copy.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            tables = sorted(name for name in names if not name.startswith("sqlite_"))
            if Club._meta.db_table not in tables:
                raise InputError(ClassroomCode.NOT_A_COPY, _NO_COPY)
            return {table: copy.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0] for table in tables}
    except sqlite3.DatabaseError as error:
        raise InputError(ClassroomCode.NOT_A_COPY, _NO_COPY) from error


def _same(copied: dict[str, int], here: dict[str, int]) -> None:
    if copied != here:
        raise InputError(
            ClassroomCode.NOT_A_COPY, "What was restored is not what the copy holds; empty the database and try again."
        )


def _database_name() -> str:
    return str(connection.settings_dict["NAME"])


def _run(command: list[str]) -> None:
    """PostgreSQL's programs take the way to the server from the environment, so that no password stands in a command."""
    said: dict[str, Any] = connection.settings_dict
    ways = {"PGHOST": "HOST", "PGPORT": "PORT", "PGUSER": "USER", "PGPASSWORD": "PASSWORD"}
    environment = os.environ | {name: str(said[key]) for name, key in ways.items() if said.get(key)}
    try:
        subprocess.run(command, env=environment, check=True, capture_output=True, text=True)
    except FileNotFoundError as error:
        words = f"{command[0]} is not installed here; install PostgreSQL's client programs."
        raise InputError(ClassroomCode.NOT_A_COPY, words) from error
    except subprocess.CalledProcessError as error:
        last = (error.stderr or "").strip().splitlines()[-1:] or ["no word why"]
        raise InputError(ClassroomCode.NOT_A_COPY, f"{command[0]} did not work: {last[0]}") from error
