"""The whole installation copied from its database into another, empty one, and compared row by row before it counts.

Unlike a club's archive this takes everything along, accounts, passwords and links with it, under the same numbers: it is
the same installation, which goes on elsewhere.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import environ
from django.apps import apps
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections, models, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.records.archive.cells import write_cell
from classroom.records.archive.one_moment import one_moment

THERE = "there"
#: What ``migrate`` itself puts into an empty database; of these the ones of here are taken, under their numbers.
FILLED = ("auth.Permission", "contenttypes.ContentType")
BATCH = 1000
_STAYS = "What was there before is as it was."
_SCHEMES = ("sqlite", "postgres", "postgresql")
_KINDS = {"django.db.backends.sqlite3": "SQLite", "django.db.backends.postgresql": "PostgreSQL"}


@dataclass(frozen=True)
class Moved:
    """How many rows of each table were copied, read again there, and found to be the same."""

    counts: dict[str, int]
    where: str


def move_to(address: str) -> Moved:
    """
    Parameters
    ----------
    address
        As ``DATABASE_URL`` has it.

    Raises
    ------
    InputError
        ``not_a_database``: nothing answers there, or it is of no kind that helmroom knows. ``not_yet``: the database in
        use is of an older helmroom. ``not_moved``: the other database did not take a row as it is.
    ConflictError
        ``not_empty``.
    """
    config = _read_address(address)
    where = f"{_KINDS[config['ENGINE']]} {config['NAME']}"
    if MigrationExecutor(connections[DEFAULT_DB_ALIAS]).migration_plan(_leaves()):
        words = "The database in use is of an older helmroom. Run “manage.py migrate” first, then try again."
        raise InputError(ClassroomCode.NOT_YET, words)
    with _connected(config) as there:
        _refuse_if_filled(there)
        _make_tables(address)
        try:
            with one_moment(), transaction.atomic(using=THERE):
                counts = _copy()
        except (DatabaseError, UnicodeError, ValueError) as error:
            said = str(error).strip().splitlines()[:1] or ["no word why"]
            words = f"The other database did not take all of it: {said[0]}. It has empty tables now. {_STAYS}"
            raise InputError(ClassroomCode.NOT_MOVED, words) from error
    return Moved(counts, where)


def moved_models() -> list[type[models.Model]]:
    """Every table of every app, also those between two."""
    return [model for model in apps.get_models(include_auto_created=True) if model._meta.managed]


def table_sum(model: type[models.Model], using: str) -> tuple[int, str]:
    """How many rows, and a sum of them that does not depend on their order, which databases have each their own of."""
    fields = model._meta.concrete_fields
    writers = [_plain_number if isinstance(field, models.JSONField) else write_cell(field) for field in fields]
    count, total = 0, 0
    rows = model._base_manager.using(using).order_by().values_list(*(field.attname for field in fields))
    for row in rows.iterator(BATCH):
        plain = [
            write(value) if write and value is not None else value for write, value in zip(writers, row, strict=True)
        ]
        told = json.dumps(plain, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        total += int.from_bytes(hashlib.sha256(told.encode()).digest())
        count += 1
    return count, f"{total % 2**256:064x}"


def _make_tables(address: str) -> None:
    """By a process whose only database that is: what a migration does to rows, it does to those of the database in use."""
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": settings.SETTINGS_MODULE, "DATABASE_URL": address, "HELMROOM_SQLITE": "1",
    }  # fmt: skip
    command = [sys.executable, "-m", "django", "migrate", "--no-input", "--verbosity=0"]
    done = subprocess.run(
        command,
        env=environment,
        cwd=settings.BASE_DIR,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        said = done.stderr.strip().splitlines()[-1:] or ["no word why"]
        raise InputError(ClassroomCode.NOT_MOVED, f"Its tables could not be made there: {said[0]} {_STAYS}")


def _copy() -> dict[str, int]:
    for label in FILLED:
        apps.get_model(label)._base_manager.using(THERE).all().delete()
    counts = {}
    for model in moved_models():
        _copy_rows(model)
        here, there = table_sum(model, DEFAULT_DB_ALIAS), table_sum(model, THERE)
        if here != there:
            words = f"{model._meta.db_table} has {there[0]} rows there that are not the {here[0]} of here. {_STAYS}"
            raise InputError(ClassroomCode.NOT_MOVED, words)
        counts[model._meta.db_table] = here[0]
    for model in moved_models():
        _carry_last_number(model)
    return counts


def _copy_rows(model: type[models.Model]) -> None:
    manager, batch = model._base_manager.using(THERE), []
    for row in model._base_manager.using(DEFAULT_DB_ALIAS).order_by("pk").iterator(BATCH):
        batch.append(row)
        if len(batch) == BATCH:
            manager.bulk_create(batch)
            batch = []
    manager.bulk_create(batch)


def _carry_last_number(model: type[models.Model]) -> None:
    """So that there, too, no number is ever given twice, not even that of a row which is long gone: the log names it."""
    if not isinstance(model._meta.auto_field, models.AutoField | models.BigAutoField):
        return
    table, column = model._meta.db_table, str(model._meta.auto_field.column)
    last = _last_number(connections[DEFAULT_DB_ALIAS], table, column)
    there = connections[THERE]
    with there.cursor() as cursor:
        if not last:
            return
        if there.vendor == "postgresql":
            cursor.execute("SELECT setval(pg_get_serial_sequence(%s, %s), %s, true)", [f'"{table}"', column, last])
            return
        cursor.execute("UPDATE sqlite_sequence SET seq = %s WHERE name = %s", [last, table])
        if not cursor.rowcount:
            cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, last])


def _last_number(connection: BaseDatabaseWrapper, table: str, column: str) -> int:
    """The last that was given; 0 where none was."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [f'"{table}"', column])
            sequence = cursor.fetchone()[0]
            cursor.execute(f"SELECT CASE WHEN is_called THEN last_value ELSE 0 END FROM {sequence}")
        else:
            cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
        found = cursor.fetchone()
    return int(found[0]) if found else 0


def _refuse_if_filled(there: BaseDatabaseWrapper) -> None:
    try:
        tables = set(there.introspection.table_names())
    except DatabaseError as error:
        said = str(error).strip().splitlines()[:1] or ["no word why"]
        words = f"Nothing to move to: {said[0]}. Make an empty database first, then try again. {_STAYS}"
        raise InputError(ClassroomCode.NOT_A_DATABASE, words) from error
    ours = {model._meta.db_table: model._meta.label for model in moved_models()}
    others = tables - ours.keys() - {MigrationRecorder.Migration._meta.db_table}
    filled = sorted(others) or [table for table in sorted(tables & ours.keys()) if _has_rows(there, table, ours[table])]
    if filled:
        words = f"That database is not empty: there is something in {filled[0]}. Give an empty one. {_STAYS}"
        raise ConflictError(ClassroomCode.NOT_EMPTY, words)


def _has_rows(there: BaseDatabaseWrapper, table: str, label: str) -> bool:
    if label in FILLED:
        return False
    with there.cursor() as cursor:
        cursor.execute(f"SELECT 1 FROM {there.ops.quote_name(table)} LIMIT 1")
        return cursor.fetchone() is not None


def _read_address(address: str) -> dict[str, Any]:
    wrong = "That is no address of a database. It looks like postgres://USER@HOST/NAME or sqlite:////FOLDER/FILE."
    try:
        is_known = urlsplit(address).scheme in _SCHEMES
        config = dict(environ.Env.db_url_config(address)) if is_known else {}
    except (ImproperlyConfigured, ValueError, KeyError) as error:
        raise InputError(ClassroomCode.NOT_A_DATABASE, f"{wrong} {_STAYS}") from error
    if config.get("ENGINE") not in _KINDS or config.get("NAME") in ("", ":memory:", None):
        raise InputError(ClassroomCode.NOT_A_DATABASE, f"{wrong} {_STAYS}")
    here = connections[DEFAULT_DB_ALIAS].settings_dict
    if all(str(config.get(key) or "") == str(here.get(key) or "") for key in ("ENGINE", "NAME", "HOST", "PORT")):
        raise ConflictError(ClassroomCode.NOT_EMPTY, f"That is the database in use. Give another, empty one. {_STAYS}")
    if config["ENGINE"].endswith("sqlite3"):
        config["OPTIONS"] = {"transaction_mode": "IMMEDIATE"}
    return config


@contextmanager
def _connected(config: dict[str, Any]) -> Iterator[BaseDatabaseWrapper]:
    """A second connection beside the one in use, for as long as it is needed. A file of SQLite is its owner's alone."""
    file = Path(config["NAME"]) if config["ENGINE"].endswith("sqlite3") else None
    made = file is not None and not file.exists()
    if made and file is not None:
        try:
            file.touch(mode=0o600)
        except OSError as error:
            words = f"The file {file} cannot be made: {error.strerror}. {_STAYS}"
            raise InputError(ClassroomCode.NOT_A_DATABASE, words) from error
    connections.databases[THERE] = connections.configure_settings({DEFAULT_DB_ALIAS: config})[DEFAULT_DB_ALIAS]
    whole = False
    try:
        yield connections[THERE]
        whole = True
    finally:
        connections[THERE].close()
        del connections[THERE], connections.databases[THERE]
        if made and not whole and file is not None:
            file.unlink(missing_ok=True)


def _leaves() -> list[tuple[str, str]]:
    return MigrationExecutor(connections[DEFAULT_DB_ALIAS]).loader.graph.leaf_nodes()


def _plain_number(value: Any) -> Any:
    """A document with numbers as both databases hand them back: 1e16 and 10000000000000000 are one."""
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, list):
        return [_plain_number(each) for each in value]
    if isinstance(value, dict):
        return {key: _plain_number(each) for key, each in value.items()}
    return value
