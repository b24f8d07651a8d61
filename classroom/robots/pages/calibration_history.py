"""A robot's calibrations of each kind over time: what each found, what changed since the one before, a picture."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from classroom.models import Calibration, Robot
from classroom.robots.kinds import KINDS
from classroom.robots.kinds.kind import CalibrationKind
from classroom.robots.numbers import fit_of
from classroom.robots.pages.pictures import SeriesPicture, series_picture
from classroom.robots.rules.due import measuring_due
from motion.calibration import Change, ComparableFit, compare


@dataclass(frozen=True)
class CalibrationEntry:
    """One calibration; ``changes`` says what differs from the one before of its kind, in sentences."""

    calibration: Calibration
    fit: Any
    words: str
    changes: tuple[str, ...]
    clear_change: bool
    flagged: int

    @property
    def in_force(self) -> bool:
        return self.calibration.superseded_by_id is None


@dataclass(frozen=True)
class KindHistory:
    kind: str
    label: str
    entries: tuple[CalibrationEntry, ...]
    picture: SeriesPicture | None
    caption: str


def history_of(robot: Robot, unit: str) -> list[KindHistory]:
    """All kinds in their usual order, entries newest first. One query."""
    rows = Calibration.objects.filter(robot=robot).select_related("measured_by_coach__user", "measured_by_team")
    by_kind: dict[str, list[Calibration]] = {key: [] for key in KINDS}
    for row in rows.order_by("measured_at", "pk"):
        by_kind[row.kind].append(row)
    return [_of_kind(KINDS[key], calibrations, unit) for key, calibrations in by_kind.items()]


def kind_to_measure(history: Iterable[KindHistory], robot: Robot, today: dt.date) -> str:
    """The first kind that was never measured or is due again; empty when all of them hold."""
    rebuilt_on = timezone.localdate(robot.changed_at)
    for kind in history:
        last = timezone.localdate(kind.entries[0].calibration.measured_at) if kind.entries else None
        if measuring_due(today, calibrated_on=last, rebuilt_on=rebuilt_on):
            return kind.kind
    return ""


def entry_of(calibration: Calibration, before: Calibration | None, unit: str) -> CalibrationEntry:
    """What one calibration says, compared with the one before."""
    kind, fit = KINDS[calibration.kind], fit_of(calibration)
    changes = changes_since(before, fit)
    return CalibrationEntry(
        calibration=calibration,
        fit=fit,
        words=kind.found(fit, unit),
        changes=tuple(change.sentence for change in changes),
        clear_change=any(change.sure == "clear" for change in changes),
        flagged=len(kind.outliers(fit)),
    )


def changes_since(before: Calibration | None, fit: ComparableFit) -> tuple[Change, ...]:
    """What has changed between a calibration and a later fit of its kind; nothing without one."""
    if before is None:
        return ()
    day = date_format(timezone.localdate(before.measured_at), "MONTH_DAY_FORMAT")
    return compare(fit, fit_of(before), _("the runs of %(day)s") % {"day": day})


def _of_kind(kind: CalibrationKind[Any], calibrations: list[Calibration], unit: str) -> KindHistory:
    entries = [
        entry_of(calibration, calibrations[i - 1] if i else None, unit) for i, calibration in enumerate(calibrations)
    ]
    shown = kind.over_time
    points = []
    for entry in entries:
        value, u = shown.value(entry.fit, unit)
        points.append((timezone.localdate(entry.calibration.measured_at), value, value - 2 * u, value + 2 * u))
    suffix = shown.suffix.format(unit=unit)
    return KindHistory(
        kind=kind.key,
        label=kind.label,
        entries=tuple(reversed(entries)),
        picture=series_picture(points, suffix=suffix, decimals=1, from_zero=shown.from_zero)
        if len(points) > 1
        else None,
        caption=shown.caption,
    )
