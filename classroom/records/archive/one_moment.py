"""Reading many tables as they are at one moment, while others go on writing."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import DEFAULT_DB_ALIAS, connections, transaction


@contextmanager
def one_moment(using: str = DEFAULT_DB_ALIAS) -> Iterator[None]:
    """A transaction that only reads. SQLite: deferred, so that it takes no lock that writers wait for
    (https://sqlite.org/isolation.html, "Isolation And Concurrency" under WAL). PostgreSQL: repeatable read, whose snapshot
    is the same for every statement (its documentation, 13.2.2).
    """
    connection = connections[using]
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        mode = connection.transaction_mode  # type: ignore[attr-defined]
        connection.transaction_mode = "DEFERRED"  # type: ignore[attr-defined]
        try:
            with transaction.atomic(using=using):
                yield
        finally:
            connection.transaction_mode = mode  # type: ignore[attr-defined]
    else:
        with transaction.atomic(using=using):
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
