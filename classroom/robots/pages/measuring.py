"""What a team's measuring says, while it is still going on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from classroom.models import Calibration, Robot
from classroom.robots.numbers import fit_of
from classroom.robots.rules.calibration_words import Correction, corrections, found, settings_to_type
from classroom.robots.services.calibrate import fit_runs
from motion.calibration import compare


@dataclass(frozen=True)
class Says:
    """``changes`` compares with the calibration in force; ``outliers`` are indices of filled rows."""

    words: str
    changes: tuple[str, ...]
    corrections: tuple[Correction, ...]
    settings: tuple[tuple[str, str], ...]
    outliers: tuple[int, ...]


def says(robot: Robot, kind: str, runs: Sequence[Mapping[str, Any]], unit: str) -> Says:
    """Raises the fit's own InputError when the runs say nothing yet."""
    fit = fit_runs(robot, kind, runs)
    before = Calibration.objects.filter(robot=robot, kind=kind).in_force().order_by("-measured_at").first()
    changes: tuple[str, ...] = ()
    if before is not None:
        since = f"the runs of {timezone.localdate(before.measured_at):%-d %B}"
        changes = tuple(change.sentence for change in compare(fit, fit_of(before), since))
    return Says(
        found(fit, unit),
        changes,
        tuple(corrections(fit, robot, unit)),
        tuple(settings_to_type(fit, robot, unit)),
        tuple(getattr(fit, "outliers", ())),
    )


def newest_measuring(robot: Robot, kind: str) -> int:
    """By its number a page knows whether what it sent has been kept; 0 when there is none."""
    return Calibration.objects.filter(robot=robot, kind=kind).order_by("-pk").values_list("pk", flat=True).first() or 0


def last_surface(robot: Robot) -> str:
    last = Calibration.objects.filter(robot__club=robot.club).order_by("-measured_at").first()
    return last.surface if last else ""
