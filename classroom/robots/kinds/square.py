"""The square, driven both ways: how each corner turns and each side curves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _

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
from classroom.site.lazily import lazily as gettext_lazy
from motion.calibration import SquareFit, fit_square
from motion.units import figure, format_length, side_word, to_unit

if TYPE_CHECKING:
    from classroom.models import Robot
    from motion.picture.camera.robot_moved import RobotMoved
    from motion.scene.records import Point


def _fit(robot: Robot, runs: Sequence[Run]) -> SquareFit:
    sides = {run["side_mm"] for run in runs}
    if len(sides) > 1:
        raise InputError(
            ClassroomCode.TWO_SIZES, _("All squares of one calibration have the same side; enter them apart.")
        )
    ways: dict[str, list[tuple[float, float]]] = {"cw": [], "ccw": []}
    places: dict[str, list[int]] = {"cw": [], "ccw": []}
    for place, run in enumerate(runs):
        if run["way"] not in ways:
            raise InputError(
                ClassroomCode.UNKNOWN_WAY, _("Each square goes clockwise or counter-clockwise; choose one.")
            )
        ways[run["way"]].append((run["x_mm"], run["y_mm"]))
        places[run["way"]].append(place)
    side = sides.pop() if sides else 0.0
    fit = fit_square(ways["cw"], ways["ccw"], side, robot.track_width_mm)
    as_entered = places["cw"] + places["ccw"]
    return replace(fit, outliers=tuple(sorted(as_entered[i] for i in fit.outliers)))


def _found(fit: SquareFit, unit: str) -> str:
    corner, curve = figure(abs(fit.alpha_deg), 2), figure(abs(fit.beta_deg), 2)
    turns = f"{corner}° {'short' if fit.alpha_deg > 0 else 'too far'}" if float(corner) else "as it is told"
    drives = f"curves {side_word(fit.beta_deg)} by {curve}°" if float(curve) else "runs straight"
    sure = figure(fit.alpha_u_deg, 2)
    wheels, wheels_u, track, track_u = (
        figure(each, 4) for each in (fit.wheel_ratio, fit.wheel_ratio_u, fit.track_ratio, fit.track_ratio_u)
    )
    return (
        f"Each corner turns {turns}, and on one side of the square it {drives} (both give or take {sure}°). The right wheel "
        f"is {wheels} times the left (give or take {wheels_u}), the track {track} times what was believed "
        f"(give or take {track_u}). The return missed by up to {format_length(fit.largest_error_mm, unit)}; runs scatter by "
        f"{format_length(fit.scatter_mm, unit)}, as turns of 90° do that vary by "
        f"{figure(fit.turn_sd_deg(), 1)}°."
    )


def _settings(fit: SquareFit, robot: Robot, unit: str) -> list[tuple[str, str]]:
    return [
        ("Track width", format_length(fit.track_to_type_mm, unit, decimals=1 if unit == "mm" else 2)),
        ("Left wheel: multiply its distances by", figure(fit.left_factor, 4)),
        ("Right wheel: multiply its distances by", figure(fit.right_factor, 4)),
    ]


def _back_left(body: BodyEnds, told: float | None) -> list[Point]:
    return [(body.back_mm, body.left_mm)]


def _read(moved: RobotMoved, told: float | None) -> tuple[PictureReading, ...]:
    (x, y), (x_sd, y_sd) = moved.went_mm[0], moved.sd_mm[0]
    return PictureReading("x", x, x_sd), PictureReading("y", y, y_sd)


SQUARE = CalibrationKind(
    key="square",
    label=gettext_lazy("Square both ways"),
    called="the square",
    counted="square paths",
    # The source is named in motion.calibration.square.
    steps=(
        READY,
        MeasuringStep(
            "Mark",
            "Where it starts, stick tape along the robot's left side and along its back, so that they make a corner.",
        ),
        MeasuringStep(
            "Drive", "Drive a square and come back to the start. All its sides are as long as you write below."
        ),
        MeasuringStep(
            "Measure",
            "How far its back left corner is ahead (x) and left (y) of the corner of your tape, as it looked at the start. "
            "Behind and right have a minus.",
        ),
        MeasuringStep("How often", "Ten squares: five turning right (clockwise), five turning left."),
    ),
    columns=(
        SheetColumn("way", "way", label=gettext_lazy("Turns"), key="way"),
        SheetColumn("x", "length", label=gettext_lazy("Ended ahead by (x)"), key="x_mm"),
        SheetColumn("y", "length", label=gettext_lazy("Ended left by (y)"), key="y_mm"),
    ),
    side=SheetColumn("side", "length", label=gettext_lazy("Side of the square"), key="side_mm"),
    blank_rows=10,
    fit_class=SquareFit,
    fit_runs=_fit,
    found=_found,
    settings=_settings,
    over_time=OverTime(
        caption="How far the return to the start misses at most.",
        value=lambda fit, unit: (to_unit(fit.largest_error_mm, unit), 0.0),
        suffix=" {unit}",
        from_zero=True,
    ),
    by_picture=ByPicture(
        first="It stands at the start of its square.",
        then="It is back from its square. Leave it where it stopped.",
        points=_back_left,
        read=_read,
    ),
)
