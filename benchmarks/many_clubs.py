"""A database full of clubs: copies of the one that is there, made inside of PostgreSQL in seconds.

Every row of every table is copied with its keys moved on by ``STEP`` a club, so that each copy hangs together by itself. What
stands in JSON still names the first club's rows: copies are there to be in the way, not to be looked at.
"""

from __future__ import annotations

from typing import Any

STEP = 100_000
APPS = ("classroom", "missions", "planning")


def multiply(clubs: int) -> None:
    """So many clubs in all. Needs a superuser, who may leave the keys of copies unchecked."""
    from django.apps import apps
    from django.db import connection, transaction

    models = [model for app in APPS for model in apps.get_app_config(app).get_models(include_auto_created=True)]
    tables = {model._meta.db_table for model in models}
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        for model in models:
            columns = {field.column: _copied(field, tables) for field in model._meta.concrete_fields}
            table = model._meta.db_table
            cursor.execute(
                f'INSERT INTO "{table}" ({", ".join(map(_quoted, columns))}) SELECT {", ".join(columns.values())} '
                f'FROM "{table}" t, generate_series(1, {clubs - 1}) g'
            )
            if model._meta.pk.get_internal_type().endswith("AutoField"):
                key = model._meta.pk.column
                cursor.execute(
                    f"SELECT setval(pg_get_serial_sequence('{table}', '{key}'), {clubs * STEP + STEP})"  # all later ones are beyond
                )


def _copied(field: Any, tables: set[str]) -> str:
    """What a column of a copy holds."""
    here = f"t.{_quoted(field.column)}"
    moved = f"{here} + g * {STEP}"
    if field.is_relation:
        return moved if field.related_model._meta.db_table in tables else here
    if field.primary_key:
        return moved
    if field.get_internal_type() == "UUIDField":
        return "gen_random_uuid()"
    if field.unique:
        return f"lpad(to_hex(t.id + g * {STEP}), {min(field.max_length or 32, 32)}, '0')"
    return here


def _quoted(name: str) -> str:
    return f'"{name}"'
