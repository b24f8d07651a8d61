"""A robot's calibrations of each kind over time: what each found, what changed since the one before, a picture."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils import timezone

from classroom.models import Calibration, CalibrationKind, Robot
from classroom.robots.numbers import fit_of
from classroom.robots.pages.pictures import SeriesPicture, series_picture
from classroom.robots.rules.calibration_words import Fit, found
from motion.calibration import Change, RestDriftFit, SpinFit, StraightFit, compare
from motion.units import to_unit


@dataclass(frozen=True)
class CalibrationEntry:
    """One calibration; ``changes`` says what differs from the one before of its kind, in sentences."""

    calibration: Calibration
    fit: Fit
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


_CAPTIONS = {
    CalibrationKind.STRAIGHT: "How far it goes of what it is told. The bars span twice the standard uncertainty.",
    CalibrationKind.SPIN: "How far it turns of what it is told. The bars span twice the standard uncertainty.",
    CalibrationKind.SQUARE: "How far the return to the start misses at most.",
    CalibrationKind.REST_DRIFT: "How fast its yaw wanders at rest. The bars span twice the standard uncertainty.",
}


def history_of(robot: Robot, unit: str) -> list[KindHistory]:
    """All kinds in their usual order, entries newest first. One query."""
    rows = Calibration.objects.filter(robot=robot).select_related("measured_by_coach__user", "measured_by_team")
    by_kind: dict[str, list[Calibration]] = {kind: [] for kind in CalibrationKind.values}
    for row in rows.order_by("measured_at", "pk"):
        by_kind[row.kind].append(row)
    return [_of_kind(kind, calibrations, unit) for kind, calibrations in by_kind.items()]


def entry_of(calibration: Calibration, before: Calibration | None, unit: str) -> CalibrationEntry:
    """What one calibration says, compared with the one before."""
    fit = fit_of(calibration)
    changes: tuple[Change, ...] = ()
    if before is not None:
        since = f"the runs of {timezone.localdate(before.measured_at):%-d %B}"
        changes = compare(fit, fit_of(before), since)
    return CalibrationEntry(
        calibration=calibration,
        fit=fit,
        words=found(fit, unit),
        changes=tuple(change.sentence for change in changes),
        clear_change=any(change.sure == "clear" for change in changes),
        flagged=len(getattr(fit, "outliers", ())),
    )


def _of_kind(kind: str, calibrations: list[Calibration], unit: str) -> KindHistory:
    entries = [
        entry_of(calibration, calibrations[i - 1] if i else None, unit) for i, calibration in enumerate(calibrations)
    ]
    points = [(timezone.localdate(entry.calibration.measured_at), *_value(entry.fit, unit)) for entry in entries]
    suffix = {CalibrationKind.SQUARE: f" {unit}", CalibrationKind.REST_DRIFT: "°/min"}.get(CalibrationKind(kind), " %")
    return KindHistory(
        kind=kind,
        label=CalibrationKind(kind).label,
        entries=tuple(reversed(entries)),
        picture=series_picture(points, suffix=suffix, decimals=1, from_zero=kind == CalibrationKind.SQUARE)
        if len(points) > 1
        else None,
        caption=_CAPTIONS[CalibrationKind(kind)],
    )


def _value(fit: Fit, unit: str) -> tuple[float, float, float]:
    """What the picture shows and the ends of its bar."""
    if isinstance(fit, StraightFit):
        value, u = fit.scale * 100, fit.scale_u * 100
    elif isinstance(fit, SpinFit):
        value, u = fit.turn_scale * 100, fit.turn_scale_u * 100
    elif isinstance(fit, RestDriftFit):
        value, u = fit.deg_per_minute, fit.u_deg_per_minute
    else:
        value, u = to_unit(fit.largest_error_mm, unit), 0.0
    return value, value - 2 * u, value + 2 * u
