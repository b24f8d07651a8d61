"""Telling a database that cannot answer just now from a fault of ours, and saying so."""

from __future__ import annotations

from django.db import DatabaseError, InterfaceError, OperationalError, connection

#: How long a browser or a tablet is asked to wait. A tablet keeps its runs meanwhile and sends them by itself.
RETRY_AFTER_S = 5
#: As long as SQLite itself waits for its turn.
LOCKED_RETRY_AFTER_S = 10
#: What SQLite says under the same error as for a missing table (sqlite.org, "Result and Error Codes").
_SQLITE = ("locked", "unable to open", "disk i/o", "disk is full", "readonly")
_SQLITE_LOCKED = "locked"


def is_locked(error: BaseException | None) -> bool:
    """Whether somebody else is writing; it passes by itself within seconds."""
    return isinstance(error, OperationalError) and _SQLITE_LOCKED in str(error).lower()


def is_away(error: BaseException | None) -> bool:
    """Whether the database could not be asked, or could not do it just now, whoever asks."""
    if not isinstance(error, DatabaseError | InterfaceError):
        return False
    if isinstance(error, InterfaceError):
        return True
    if not isinstance(error, OperationalError):
        return False
    # PostgreSQL has errors of its own for what is wrong with a question; these are of the connection and the machine.
    return connection.vendor != "sqlite" or any(words in str(error).lower() for words in _SQLITE)
