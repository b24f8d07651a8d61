"""The square, driven both ways: how each corner turns and each side curves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from django.utils.translation import gettext

from classroom.errors import ClassroomCode, InputError
from classroom.robots.kinds.kind import (
    READY,
    BodyEnds,
    ByPicture,
    CalibrationKind,
    MeasuringStep,
    OverTime,
    PictureReading,
    Run,
    SheetColumn,
)
from classroom.site.figures import figure_said, in_own_digits, length_said
from classroom.site.lazily import lazily as _
from motion.calibration import SquareFit, fit_square
from motion.units import figure, format_length, to_unit

if TYPE_CHECKING:
    from classroom.models import Robot
    from motion.picture.camera.robot_moved import RobotMoved
    from motion.scene.records import Point


def _fit(robot: Robot, runs: Sequence[Run]) -> SquareFit:
    sides = {run["side_mm"] for run in runs}
    if len(sides) > 1:
        raise InputError(
            ClassroomCode.TWO_SIZES, gettext("All squares of one calibration have the same side; enter them apart.")
        )
    ways: dict[str, list[tuple[float, float]]] = {"cw": [], "ccw": []}
    places: dict[str, list[int]] = {"cw": [], "ccw": []}
    for place, run in enumerate(runs):
        if run["way"] not in ways:
            raise InputError(
                ClassroomCode.UNKNOWN_WAY, gettext("Each square goes clockwise or counter-clockwise; choose one.")
            )
        ways[run["way"]].append((run["x_mm"], run["y_mm"]))
        places[run["way"]].append(place)
    side = sides.pop() if sides else 0.0
    fit = fit_square(ways["cw"], ways["ccw"], side, robot.track_width_mm)
    as_entered = places["cw"] + places["ccw"]
    return replace(fit, outliers=tuple(sorted(as_entered[i] for i in fit.outliers)))


def _found(fit: SquareFit, unit: str) -> str:
    wheels, wheels_u, track, track_u = (
        figure_said(each, 4) for each in (fit.wheel_ratio, fit.wheel_ratio_u, fit.track_ratio, fit.track_ratio_u)
    )
    return gettext(
        "Each corner turns %(turns)s, and on one side of the square it %(drives)s (both give or take %(sure)s°). The right "
        "wheel is %(wheels)s times the left (give or take %(wheels_u)s), the track %(track)s times what was believed "
        "(give or take %(track_u)s). The return missed by up to %(missed)s; runs scatter by %(scatter)s, as turns of 90° do "
        "that vary by %(varies)s°."
    ) % {
        "turns": _turns(fit.alpha_deg),
        "drives": _drives(fit.beta_deg),
        "sure": figure_said(fit.alpha_u_deg, 2),
        "wheels": wheels,
        "wheels_u": wheels_u,
        "track": track,
        "track_u": track_u,
        "missed": length_said(fit.largest_error_mm, unit),
        "scatter": length_said(fit.scatter_mm, unit),
        "varies": figure_said(fit.turn_sd_deg(), 1),
    }


def _turns(short_deg: float) -> str:
    corner = figure(abs(short_deg), 2)
    if not float(corner):
        return gettext("as it is told")
    said = gettext("%(corner)s° short") if short_deg > 0 else gettext("%(corner)s° too far")
    return said % {"corner": in_own_digits(corner)}


def _drives(left_deg: float) -> str:
    curve = figure(abs(left_deg), 2)
    if not float(curve):
        return gettext("runs straight")
    said = gettext("curves left by %(curve)s°") if left_deg > 0 else gettext("curves right by %(curve)s°")
    return said % {"curve": in_own_digits(curve)}


def _settings(fit: SquareFit, robot: Robot, unit: str) -> list[tuple[str, str]]:
    return [
        (
            gettext("Track width"),
            in_own_digits(format_length(fit.track_to_type_mm, unit, decimals=1 if unit == "mm" else 2)),
        ),
        (gettext("Left wheel: multiply its distances by"), figure_said(fit.left_factor, 4)),
        (gettext("Right wheel: multiply its distances by"), figure_said(fit.right_factor, 4)),
    ]


def _back_left(body: BodyEnds, told: float | None) -> list[Point]:
    return [(body.back_mm, body.left_mm)]


def _read(moved: RobotMoved, told: float | None) -> tuple[PictureReading, ...]:
    (x, y), (x_sd, y_sd) = moved.went_mm[0], moved.sd_mm[0]
    return PictureReading("x", x, x_sd), PictureReading("y", y, y_sd)


SQUARE = CalibrationKind(
    key="square",
    label=_("Square both ways"),
    called=_("the square"),
    counted=_("square paths"),
    # The source is named in motion.calibration.square.
    steps=(
        READY,
        MeasuringStep(
            _("Mark"),
            _(
                "Where it starts, stick tape along the robot's left side and along its back, so that they make a corner."
            ),
        ),
        MeasuringStep(
            _("Drive"), _("Drive a square and come back to the start. All its sides are as long as you write below.")
        ),
        MeasuringStep(
            _("Measure"),
            _(
                "How far its back left corner is ahead (x) and left (y) of the corner of your tape, as it looked at the start. "
                "Behind and right have a minus."
            ),
        ),
        MeasuringStep(_("How often"), _("Ten squares: five turning right (clockwise), five turning left.")),
    ),
    columns=(
        SheetColumn("way", "way", label=_("Turns"), key="way"),
        SheetColumn("x", "length", label=_("Ended ahead by (x)"), key="x_mm"),
        SheetColumn("y", "length", label=_("Ended left by (y)"), key="y_mm"),
    ),
    side=SheetColumn("side", "length", label=_("Side of the square"), key="side_mm"),
    blank_rows=10,
    fit_class=SquareFit,
    fit_runs=_fit,
    found=_found,
    settings=_settings,
    over_time=OverTime(
        caption=_("How far the return to the start misses at most."),
        value=lambda fit, unit: (to_unit(fit.largest_error_mm, unit), 0.0),
        suffix=" {unit}",
        from_zero=True,
    ),
    by_picture=ByPicture(
        first=_("It stands at the start of its square."),
        then=_("It is back from its square. Leave it where it stopped."),
        points=_back_left,
        read=_read,
    ),
)
