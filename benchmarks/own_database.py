"""Measuring in a database of its own, made for it and gone afterwards; and whoever is signed in there."""

from __future__ import annotations

import functools
import json
import os
import subprocess
import sys
from collections.abc import Callable
from typing import Any


def print_measured(measure: Callable[[int, int, int], Any], teams: str, missions: str, attempts: str) -> None:
    """Measure at that size and print what was found as JSON."""
    import django

    django.setup()
    from django.db import connection

    from config.process.garbage import freeze_what_is_loaded

    freeze_what_is_loaded()  # as the server does
    name = connection.settings_dict["NAME"]
    if connection.vendor == "postgresql":
        connection.settings_dict["TEST"]["NAME"] = f"helmroom_bench_{os.getpid()}"
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    try:
        found = measure(int(teams), int(missions), int(attempts))
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)
    print(json.dumps(found))


@functools.cache
def measured_once(module: str, size: tuple[int, int, int], database: str = "") -> dict[str, Any]:
    """What ``module`` prints at that size in a process of its own, with SQLite where no database is named; once for each."""
    env = os.environ | {"DJANGO_SETTINGS_MODULE": "config.settings.test"}
    env.pop("DATABASE_URL", None)
    if database:
        env["DATABASE_URL"] = database
    done = subprocess.run(
        [sys.executable, "-m", module, *map(str, size)], env=env, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise RuntimeError(done.stderr.strip().splitlines()[-1] if done.stderr else "the measuring process ended")
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def gather_statistics() -> None:
    """What autovacuum does by itself about a minute after so many rows came in; SQLite is left as it is."""
    from django.db import connection

    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def session_with(**values: Any) -> str:
    """The key of a session with these values, as a browser's cookie has it."""
    from importlib import import_module

    from django.conf import settings

    store = import_module(settings.SESSION_ENGINE).SessionStore()
    store.update(values)
    store.create()
    return str(store.session_key)


def session_of(user: Any) -> str:
    """A coach's, signed in."""
    from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY

    return session_with(
        **{
            SESSION_KEY: str(user.pk),
            BACKEND_SESSION_KEY: "allauth.account.auth_backends.AuthenticationBackend",
            HASH_SESSION_KEY: user.get_session_auth_hash(),
        }
    )
