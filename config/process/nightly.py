"""What is done once a day, beside the worker: deleting what has outlived its date, and on a laptop a copy of the database.

On a laptop that is off at night it is done when it is next on.
"""

from __future__ import annotations

import datetime as dt
import logging
from pathlib import Path

from django.db import close_old_connections

from classroom.families.mail_folder import take_old_mail
from classroom.records.backup import keep_daily_copies
from classroom.records.scrub import scrub_remains
from classroom.records.services.purge_expired import purge_expired

log = logging.getLogger(__name__)

#: In UTC: no club's afternoon in Europe, and a laptop that was off then does it when it is started.
HOUR = 2


class Nightly:
    """One round for each day that begins at ``HOUR``; the first look of a process does it too, since it knows of no earlier."""

    def __init__(self, copies: Path | None = None) -> None:
        """``copies``: the folder for daily copies; None where somebody else makes them, as on a server."""
        self._copies = copies
        self._done: dt.date | None = None

    def look(self, now: dt.datetime) -> bool:
        """Whether a round was due. One that fails is told in the log and tried again the next day."""
        day = (now - dt.timedelta(hours=HOUR)).date()
        if day == self._done:
            return False
        self._done = day
        try:
            take_old_mail(now)
            told = purge_expired(now)
            if not told.nothing:
                log.info("Deleted what was past its date: %s kinds, %s children.", len(told.rows), told.children)
                scrub_remains()
        except Exception:
            log.exception("Deleting what is past its date did not work; the next night tries again.")
            close_old_connections()
        try:
            if self._copies is not None:
                keep_daily_copies(self._copies, day)
        except Exception:
            log.exception("The daily copy did not work; tomorrow's tries again.")
            close_old_connections()
        return True
