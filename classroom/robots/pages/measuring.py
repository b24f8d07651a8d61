"""What measured runs say, while a sheet is being filled in and of a calibration that was kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy as _

from classroom.models import Calibration, Robot
from classroom.robots.kinds import KINDS
from classroom.robots.kinds.kind import Correction
from classroom.robots.pages.calibration_history import changes_since
from classroom.robots.services.calibrate import fit_runs

#: Shown where the measuring happens; local rules and the kit maker's instructions come first.
CAUTION = _(
    "Keep fingers, hair and lanyards away from wheels and tool while it moves; stop it and switch it off before you touch "
    "it. Let a falling robot fall. Your club's rules and the kit maker's instructions come first."
)


@dataclass(frozen=True)
class Says:
    """``changes`` compares with the calibration before; ``outliers`` are indices of filled rows."""

    words: str
    changes: tuple[str, ...]
    corrections: tuple[Correction, ...]
    settings: tuple[tuple[str, str], ...]
    outliers: tuple[int, ...]


def says(robot: Robot, kind: str, runs: Sequence[Mapping[str, Any]], unit: str) -> Says:
    """Raises the fit's own InputError when the runs say nothing yet."""
    fit = fit_runs(robot, kind, runs)
    before = Calibration.objects.filter(robot=robot, kind=kind).in_force().order_by("-measured_at").first()
    return says_of(robot, kind, fit, before, unit)


def says_of(robot: Robot, kind: str, fit: Any, before: Calibration | None, unit: str) -> Says:
    """What a fit says, beside the calibration before it."""
    of = KINDS[kind]
    return Says(
        of.found(fit, unit),
        tuple(change.sentence for change in changes_since(before, fit)),
        tuple(of.corrections(fit, robot, unit)),
        tuple(of.settings(fit, robot, unit)),
        of.outliers(fit),
    )


def newest_measuring(robot: Robot, kind: str) -> int:
    """By its number a page knows whether what it sent has been kept; 0 when there is none."""
    return Calibration.objects.filter(robot=robot, kind=kind).order_by("-pk").values_list("pk", flat=True).first() or 0


def last_surface(robot: Robot) -> str:
    last = Calibration.objects.filter(robot__club=robot.club).order_by("-measured_at").first()
    return last.surface if last else ""
