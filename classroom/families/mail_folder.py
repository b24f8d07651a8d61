"""The mail folder of an installation without a mail server: e-mails lie there as files and reach nobody.

They hold addresses and links, so they go with the child they were for, and after a month in any case.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable
from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail.backends.filebased import EmailBackend
from django.utils.translation import gettext as _

FILES = "classroom.families.mail_folder.FileForEach"
ONLY_HERE = ("localhost", "127.0.0.1", "::1")
KEPT_FOR = dt.timedelta(days=30)


class FileForEach(EmailBackend):
    """Django names a file by second and object: two e-mails of one second could share one, and go together."""

    _fname: str | None

    def _get_filename(self) -> str:
        if self._fname is None:
            self._fname = str(Path(self.file_path) / f"{dt.datetime.now():%Y%m%d-%H%M%S}-{uuid.uuid4().hex}.log")
        return self._fname


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
            _(
                "E-mails do not leave this computer yet. "
                "Hand out slips, or ask whoever installed helmroom to switch mail on (EMAIL_URL)."
            )
        )
    if urlsplit(settings.HELMROOM_ADDRESS).hostname in ONLY_HERE:
        words = _(
            "The links in e-mails lead to %(address)s, which only this computer can open. "
            "Ask whoever installed helmroom to give it an address that families reach (HELMROOM_ADDRESS)."
        )
        told.append(words % {"address": settings.HELMROOM_ADDRESS})
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
