"""What a database leaves behind of deleted rows in its own files, taken out.

SQLite: ``VACUUM`` writes the file anew without its free pages, and a truncating checkpoint empties the write-ahead log
(https://sqlite.org/pragma.html#pragma_secure_delete, #pragma_wal_checkpoint; https://sqlite.org/lang_vacuum.html).
PostgreSQL: ``VACUUM FULL`` writes tables anew without dead rows, ``ANALYZE`` makes their statistics, which hold common
values, anew (documentation of VACUUM and pg_statistic). What the disk itself or a server's own archive of its log keeps
is beyond a program; the privacy page says so.
"""

from __future__ import annotations

from django.apps import apps
from django.db import OperationalError, connection

from classroom.records.kept import FREE_TEXT, KEPT, Of


def scrub_remains() -> bool:
    """Whether nothing is left; False when others were at it just now, or in the middle of a transaction. Tonight, then."""
    if connection.in_atomic_block:
        return False
    try:
        with connection.cursor() as cursor:
            if connection.vendor == "sqlite":
                cursor.execute("PRAGMA secure_delete=ON")
                cursor.execute("VACUUM")
                cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                return cursor.fetchone()[0] == 0
            for table in _tables():
                cursor.execute(f"VACUUM (FULL, ANALYZE) {connection.ops.quote_name(table)}")
    except OperationalError:
        return False
    return True


def _tables() -> list[str]:
    of_children = {label for label, kept in KEPT.items() if kept.of in (Of.CHILD, Of.FAMILY, Of.DOOR)}
    labels = of_children | set(FREE_TEXT) | {"classroom.AuditEntry", "admin.LogEntry"}
    return sorted(apps.get_model(label)._meta.db_table for label in labels)
