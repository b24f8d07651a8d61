"""What a robot is due for, on plain values, in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

#: A calibration older than this is worth repeating: tyres wear and batteries age. Common practice, no source.
CALIBRATION_DAYS = 28


def robot_due(
    today: dt.date,
    *,
    calibrated_on: dt.date | None,
    rebuilt_on: dt.date,
    notes: Iterable[tuple[str, dt.date | None]] = (),
) -> list[str]:
    """Sentences, the most pressing first; empty when nothing is due.

    Parameters
    ----------
    calibrated_on
        Day of the newest calibration, None when there is none.
    rebuilt_on
        Day of the last change of its build.
    notes
        (text, due on) of the service notes that are not done.
    """
    due = []
    for text, on in sorted(notes, key=lambda note: note[1] or dt.date.max):
        if on is not None and on <= today:
            late = (today - on).days
            if late == 0:
                words = _("%(text)s (due today)") % {"text": text}
            elif late == 1:
                words = _("%(text)s (due yesterday)") % {"text": text}
            else:
                words = ngettext("%(text)s (due %(days)s day ago)", "%(text)s (due %(days)s days ago)", late) % {
                    "text": text,
                    "days": late,
                }
            due.append(words)
    measuring = measuring_due(today, calibrated_on=calibrated_on, rebuilt_on=rebuilt_on)
    return [*due, measuring] if measuring else due


def measuring_due(today: dt.date, *, calibrated_on: dt.date | None, rebuilt_on: dt.date) -> str:
    """Why to measure what was last measured on that day, as a sentence; empty when that still holds."""
    if calibrated_on is None:
        return _("Measure it: it was never calibrated")
    if calibrated_on < rebuilt_on:
        return _("Measure it again: it was rebuilt since")
    if (today - calibrated_on).days <= CALIBRATION_DAYS:
        return ""
    weeks = (today - calibrated_on).days // 7
    return ngettext(
        "Measure it again: last time was %(weeks)s week ago",
        "Measure it again: last time was %(weeks)s weeks ago",
        weeks,
    ) % {"weeks": weeks}
