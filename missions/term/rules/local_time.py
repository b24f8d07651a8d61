"""A date and a clock time in a club's zone as one moment; times that a change of clocks skips are refused. Pure."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from classroom.errors import InputError
from missions.errors import MissionsCode


def moment(day: dt.date, time: dt.time, zone: str) -> dt.datetime:
    """The moment in UTC. Where a clock time comes twice (clocks go back), the first.

    Raises
    ------
    InputError
        ``no_such_time``: clocks go forward over it.
    """
    local = dt.datetime.combine(day, time, tzinfo=ZoneInfo(zone))
    utc = local.astimezone(dt.UTC)
    if utc.astimezone(ZoneInfo(zone)).replace(tzinfo=None) != local.replace(tzinfo=None):
        raise InputError(
            MissionsCode.NO_SUCH_TIME,
            _("On %(day)s clocks go forward over %(time)s: there is no such time. Choose another.")
            % {"day": date_format(day, "MONTH_DAY_FORMAT"), "time": f"{time:%H:%M}"},
        )
    return utc


def weekly(first: dt.date, last: dt.date) -> list[dt.date]:
    """Every seventh day from ``first`` up to ``last``, both included."""
    return [first + dt.timedelta(days=7 * n) for n in range((last - first).days // 7 + 1)]
