"""Recording a calibration: the runs as measured, what motion fits to them, and the former one superseded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from django.db import transaction

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, InputError
from classroom.models import Calibration, CalibrationKind, Coach, Robot, Team
from motion.calibration import fit_rest_drift, fit_spin, fit_square, fit_straight
from motion.errors import FitError

Run = Mapping[str, Any]


def fit_runs(robot: Robot, kind: str, runs: Sequence[Run]) -> Any:
    """What motion makes of the runs, unsaved: for a preview and for the record.

    ``runs`` are mappings by kind: straight ``commanded_mm, measured_mm[, sideways_mm]``; spin ``commanded_deg,
    measured_deg[, yaw_deg]``; square ``way`` (cw or ccw) ``, x_mm, y_mm, side_mm``; rest_drift ``seconds, yaw_deg``.

    Raises
    ------
    InputError
        With the fit's own code and its sentence.
    """
    try:
        return _FITTERS[kind](robot, runs)
    except KeyError as missing:
        raise InputError(ClassroomCode.MISSING_READING, f"Every run needs its {_plain(missing)}; fill it in.") from None
    except FitError as error:
        raise InputError(error.code, error.message) from error


@transaction.atomic
def record_calibration(
    robot: Robot,
    kind: str,
    surface: str,
    runs: Sequence[Run],
    *,
    by_coach: Coach | None = None,
    by_team: Team | None = None,
    now: dt.datetime,
) -> Calibration:
    """Keep a calibration; the former one of its kind is superseded by it and stays as it was.

    Raises
    ------
    InputError
        ``no_surface``, ``unknown_kind`` or a code of ``motion.errors.FitError``.
    """
    surface = surface.strip()
    if not surface:
        raise InputError(
            ClassroomCode.NO_SURFACE, "Say what the robot drove on: it drives differently on another surface."
        )
    if kind not in CalibrationKind.values:
        raise InputError(ClassroomCode.UNKNOWN_KIND, "Choose straight runs, spins, the square or resting drift.")
    fit = fit_runs(robot, kind, runs)
    former = (
        Calibration.objects.select_for_update()
        .filter(robot=robot, kind=kind)
        .in_force()
        .order_by("-measured_at", "-pk")
        .first()
    )
    made = Calibration.objects.create(
        robot=robot,
        kind=kind,
        surface=surface[:40],
        runs=[dict(run) for run in runs],
        fit=asdict(fit),
        measured_at=now,
        measured_by_coach=by_coach,
        measured_by_team=by_team,
    )
    if former is not None:
        Calibration.objects.filter(pk=former.pk).update(superseded_by=made)
    note_in_audit(robot.club, by_coach or by_team, "calibrated", f"robot:{robot.pk}", now=now)
    robot.club.touch()
    return made


def _column(runs: Sequence[Run], key: str) -> list[Any]:
    return [run[key] for run in runs]


def _optional(runs: Sequence[Run], key: str) -> list[Any] | None:
    """A column that is measured in every run or else in none that counts."""
    values = [run.get(key) for run in runs]
    if all(value is None for value in values):
        return None
    if any(value is None for value in values):
        raise InputError(
            ClassroomCode.HALF_A_COLUMN, "Fill in the optional reading for every run, or leave it out of all."
        )
    return values


def _straight(robot: Robot, runs: Sequence[Run]) -> Any:
    return fit_straight(
        _column(runs, "commanded_mm"), _column(runs, "measured_mm"), sideways_mm=_optional(runs, "sideways_mm")
    )


def _spin(robot: Robot, runs: Sequence[Run]) -> Any:
    return fit_spin(_column(runs, "commanded_deg"), _column(runs, "measured_deg"), yaw_deg=_optional(runs, "yaw_deg"))


def _square(robot: Robot, runs: Sequence[Run]) -> Any:
    sides = {run["side_mm"] for run in runs}
    if len(sides) > 1:
        raise InputError(
            ClassroomCode.TWO_SIZES, "All squares of one calibration have the same side; enter them apart."
        )
    ways: dict[str, list[tuple[float, float]]] = {"cw": [], "ccw": []}
    for run in runs:
        if run["way"] not in ways:
            raise InputError(ClassroomCode.UNKNOWN_WAY, "Each square goes clockwise or counter-clockwise; choose one.")
        ways[run["way"]].append((run["x_mm"], run["y_mm"]))
    side = sides.pop() if sides else 0.0
    return fit_square(ways["cw"], ways["ccw"], side, robot.track_width_mm)


def _rest_drift(robot: Robot, runs: Sequence[Run]) -> Any:
    return fit_rest_drift(_column(runs, "seconds"), _column(runs, "yaw_deg"))


_FITTERS: dict[str, Callable[[Robot, Sequence[Run]], Any]] = {
    CalibrationKind.STRAIGHT: _straight,
    CalibrationKind.SPIN: _spin,
    CalibrationKind.SQUARE: _square,
    CalibrationKind.REST_DRIFT: _rest_drift,
}


def _plain(missing: KeyError) -> str:
    return str(missing.args[0]).rsplit("_", 1)[0].replace("_", " ")
