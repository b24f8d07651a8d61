"""The clock of a session: which slot it is, when each begins, which can still be changed. Pure."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True)
class DayClock:
    """Slots of equal length from ``begins`` on, as many as end by ``ends``. All moments carry their zone.

    A clock that does not run yet is at no slot: a coach starts it, not the time of day.
    """

    begins: dt.datetime
    ends: dt.datetime
    minutes: int
    runs: bool = True

    @property
    def count(self) -> int:
        whole = (self.ends.astimezone(dt.UTC) - self.begins.astimezone(dt.UTC)) // dt.timedelta(minutes=self.minutes)
        return max(0, whole)

    def starts(self, slot: int) -> dt.datetime:
        """In UTC, so that a change of clocks in between shifts nothing."""
        return self.begins.astimezone(dt.UTC) + dt.timedelta(minutes=slot * self.minutes)

    def slot_at(self, now: dt.datetime) -> int:
        """-1 before the first slot or while the clock does not run, ``count`` after the last."""
        if not self.runs and now < self.ends:
            return -1
        since = now.astimezone(dt.UTC) - self.begins.astimezone(dt.UTC)
        if since < dt.timedelta(0):
            return -1
        return min(since // dt.timedelta(minutes=self.minutes), self.count)

    def first_open(self, now: dt.datetime) -> int:
        """The first slot that has not begun."""
        return min(self.slot_at(now) + 1, self.count)

    def first_from(self, moment: dt.datetime) -> int:
        """The first slot that begins at a moment or later."""
        since = moment.astimezone(dt.UTC) - self.begins.astimezone(dt.UTC)
        return max(0, -(-since // dt.timedelta(minutes=self.minutes)))
