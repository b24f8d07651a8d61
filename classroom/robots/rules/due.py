"""What a robot is due for, on plain values, in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

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
            when = "today" if late == 0 else "yesterday" if late == 1 else f"{late} days ago"
            due.append(f"{text} (due {when})")
    if calibrated_on is None:
        due.append("Measure it: it was never calibrated")
    elif calibrated_on < rebuilt_on:
        due.append("Measure it again: it was rebuilt since")
    elif (today - calibrated_on).days > CALIBRATION_DAYS:
        due.append(f"Measure it again: last time was {(today - calibrated_on).days // 7} weeks ago")
    return due
