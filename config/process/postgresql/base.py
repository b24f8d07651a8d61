"""Django's PostgreSQL with connections that nobody waits for in vain. Its settings name this folder as their engine."""

from __future__ import annotations

from typing import Any

import psycopg
from django.db.backends.postgresql import base

from config.process.postgresql.silence import SilentError, WatchedConnection, lately_silent


class WatchedPsycopg:
    """The module that Django asks for a connection and for the names of errors."""

    connect = WatchedConnection.connect

    def __getattr__(self, name: str) -> Any:
        return getattr(psycopg, name)


class DatabaseWrapper(base.DatabaseWrapper):
    Database = WatchedPsycopg()  # type: ignore[assignment]

    def __init__(self, settings_dict: dict[str, Any], alias: str = "default") -> None:
        options = settings_dict["OPTIONS"]
        if options.get("pool"):
            watched = {**options["pool"], "connection_class": WatchedConnection}
            settings_dict = {**settings_dict, "OPTIONS": {**options, "pool": watched}}
        super().__init__(settings_dict, alias)

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        if lately_silent():
            raise SilentError("PostgreSQL did not answer just now.")
        return super().get_new_connection(conn_params)
