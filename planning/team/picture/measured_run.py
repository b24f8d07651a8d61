"""A run of a calibration by pictures: the robot before it and after it, and what that says in the sheet's own columns."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from classroom.errors import ClassroomCode, InputError
from classroom.models import Robot
from classroom.robots.kinds.kind import BodyEnds, ByPicture, CalibrationKind, PictureReading, SheetColumn
from classroom.site.figures import figure_said
from missions.models import MissionVersion
from motion.chance.least_squares import NINETEEN_IN_TWENTY
from motion.errors import UnitError
from motion.picture.camera.robot_moved import robot_moved
from motion.scene.contact import nose_of
from motion.units import figure, format_length, parse_angle, parse_length, to_unit
from planning.errors import PlanningCode
from planning.team.picture.carried import read_stand, sign_stand
from planning.team.picture.measure import see_own_robot, see_table

#: Decimals of a reading: finer than any picture tells, so that rounding takes nothing away.
DECIMALS = {"mm": 1, "cm": 2, "in": 3}


@dataclass(frozen=True)
class SeenRun:
    """What one more picture said.

    ``before`` is the first picture's, to come back with the next; ``fields`` fill a row of the sheet, ``shared`` what the
    sheet asks once, both in the club's unit; ``words`` say the same with how sure it is. Of a first picture there is
    nothing but ``before``.
    """

    before: str
    fields: dict[str, str]
    shared: dict[str, str]
    words: tuple[str, ...]


def asked_column(kind: CalibrationKind, by: ByPicture) -> SheetColumn | None:
    """What is asked for beside the pictures."""
    if by.asks == "side":
        return kind.side
    return next((column for column in kind.columns if column.name == by.asks), None)


def see_run(
    robot: Robot, version: MissionVersion, kind: CalibrationKind, data: bytes, *, before: str, told: str
) -> SeenRun:
    """Measure one more picture of a run; the first where ``before`` is empty.

    Parameters
    ----------
    before
        What the first picture's answer carried.
    told
        What was typed beside the pictures; may be empty.

    Raises
    ------
    InputError
        As the picture itself, ``picture_over`` (the first one is too old or of another table), ``not_a_number`` and the
        like of what was typed, ``missing_reading``, ``no_pictures``.
    """
    by, unit = kind.by_picture, robot.club.unit
    if by is None:
        raise InputError(PlanningCode.NO_PICTURES, _("Pictures do not tell this. Measure it as the steps say."))
    asked = asked_column(kind, by)
    value = _told(asked, told, unit) if asked else None
    seen = see_table(robot.club, version, data)
    found = see_own_robot(seen, robot)
    if not before:
        return SeenRun(sign_stand(robot, version, seen.sheet_set, found), {}, {}, ())
    first = read_stand(before, robot, version, seen.sheet_set)
    body = ends_of(robot)
    readings = by.read(robot_moved(first, found, by.points(body, value)), value)
    columns = {column.name: column for column in kind.columns}
    shared = {}
    if by.asks == "side" and value is None:
        shared["side"] = format_length(body.length_mm, unit, decimals=DECIMALS[unit], with_unit=False)
    return SeenRun(
        before,
        {each.column: _typed(each, columns[each.column], unit) for each in readings},
        shared,
        tuple(_said(each, columns[each.column], unit) for each in readings),
    )


def ends_of(robot: Robot) -> BodyEnds:
    """Of the outline that it drives with."""
    corners = [(float(x), float(y)) for part in robot.travel_footprint for x, y in part]
    nose = nose_of(robot.travel_footprint)
    return BodyEnds(nose, min(x for x, _ in corners), max(y for _, y in corners))


def _told(column: SheetColumn, text: str, unit: str) -> float | None:
    if not text.strip():
        return None
    try:
        value = parse_length(text, unit) if column.holds == "length" else parse_angle(text)
    except UnitError as error:
        raise InputError(
            error.code, _("%(field)s: %(wrong)s") % {"field": column.label, "wrong": error.message}
        ) from error
    if column.name == "side" and value <= 0.0:
        words = _("%(field)s: write a length over nothing, or leave it empty.") % {"field": column.label}
        raise InputError(ClassroomCode.NOT_A_NUMBER, words)
    return value


def _typed(reading: PictureReading, column: SheetColumn, unit: str) -> str:
    if column.holds != "length":
        return figure(reading.value, 1)
    return format_length(reading.value, unit, decimals=DECIMALS[unit], with_unit=False)


def _said(reading: PictureReading, column: SheetColumn, unit: str) -> str:
    """ "Measured: 60.32 ± 0.28 cm"."""
    half = NINETEEN_IN_TWENTY * reading.sd
    if column.holds != "length":
        return f"{column.label}: {figure_said(reading.value, 1)} ± {figure_said(half, 1)}°"
    value, sure = (figure_said(to_unit(each, unit), DECIMALS[unit]) for each in (reading.value, half))
    return f"{column.label}: {value} ± {sure} {unit}"
