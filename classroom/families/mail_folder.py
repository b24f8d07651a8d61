"""The mail folder of an installation without a mail server: e-mails lie there as files and reach nobody.

They hold addresses and links, so they go with the child they were for, and after a month in any case.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings

FILES = "django.core.mail.backends.filebased.EmailBackend"
ONLY_HERE = ("localhost", "127.0.0.1", "::1")
KEPT_FOR = dt.timedelta(days=30)


def mail_folder() -> Path | None:
    """None where e-mails go to a mail server."""
    if settings.EMAIL_BACKEND != FILES or not settings.EMAIL_FILE_PATH:
        return None
    return Path(settings.EMAIL_FILE_PATH)


def what_mail_lacks() -> list[str]:
    """What a coach should know before any is sent, in sentences; nothing where all is well."""
    told = []
    if mail_folder() is not None:
        told.append(
            "No mail server is set for this helmroom: e-mails are put into its mail folder as files and reach nobody. "
            "Hand out slips, or ask whoever runs it to set EMAIL_URL."
        )
    if urlsplit(settings.HELMROOM_ADDRESS).hostname in ONLY_HERE:
        told.append(
            f"The links in e-mails lead to {settings.HELMROOM_ADDRESS}, which only this computer can open. "
            "Ask whoever runs helmroom to set HELMROOM_ADDRESS to an address that families reach."
        )
    return told


def take_mail_to(addresses: Iterable[str]) -> int:
    """Take away each file that names one of these addresses; how many."""
    folder, wanted = mail_folder(), [address.lower().encode() for address in addresses if address]
    if folder is None or not wanted or not folder.is_dir():
        return 0
    held = [path for path in folder.iterdir() if path.is_file() and _names_any(path, wanted)]
    return _take_away(held)


def take_old_mail(now: dt.datetime) -> int:
    """Take away what is older than ``KEPT_FOR``; how many."""
    folder = mail_folder()
    if folder is None or not folder.is_dir():
        return 0
    before = (now - KEPT_FOR).timestamp()
    return _take_away([path for path in folder.iterdir() if path.is_file() and path.stat().st_mtime < before])


def _names_any(path: Path, wanted: list[bytes]) -> bool:
    text = path.read_bytes().lower()
    return any(address in text for address in wanted)


def _take_away(paths: list[Path]) -> int:
    for path in paths:
        path.unlink(missing_ok=True)
    return len(paths)
