"""What a server still lacks, by name, before anybody finds out: part of ``manage.py check`` and said at each start."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Warning, register

from classroom.people.services.send_link import NO_MAIL

LAPTOP_CACHE = "django.core.cache.backends.locmem.LocMemCache"


@register("helmroom")
def missing_on_a_server(app_configs: Any = None, **more: Any) -> list[CheckMessage]:
    """Nothing on a laptop, where none of it is needed."""
    if settings.HELMROOM_MODE != "server":
        return []
    found: list[tuple[str, str, str]] = []
    if settings.DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
        found.append(("W001", "The database is one file (SQLite).", "Set DATABASE_URL to a PostgreSQL."))
    if settings.CACHES["default"]["BACKEND"] == LAPTOP_CACHE:
        found.append(("W002", "Each process counts guesses for itself.", "Set HELMROOM_BROKER to a redis:// address."))
    if settings.HELMROOM_PROXIES < 1:
        words = "Everybody seems to come from one address, that of the proxy that speaks HTTPS."
        found.append(("W003", words, "Set HELMROOM_PROXIES to how many proxies of yours stand in front."))
    if settings.EMAIL_BACKEND in NO_MAIL:
        found.append(("W004", "Nobody can set a new password: no mail goes out.", "Set EMAIL_URL to a mail server."))
    elif settings.DEFAULT_FROM_EMAIL.endswith("@localhost"):
        words = "Mail servers turn away what comes from an address that is none."
        found.append(("W006", words, "Set HELMROOM_MAIL_FROM to an address of yours; what comes back goes there."))
    found += [
        ("W005", f"Others on this machine can read {path}.", f"chmod go-rwx {path}") for path in _open_to_others()
    ]
    return [Warning(words, hint=hint, id=f"helmroom.{number}") for number, words, hint in found]


def _open_to_others() -> list[Path]:
    folder = Path(settings.DATA_DIR)
    return [folder] if os.name == "posix" and folder.is_dir() and folder.stat().st_mode & 0o077 else []
