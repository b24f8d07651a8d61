"""Setting down: how exactly the robot is put against its marks before a run."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _

from classroom.errors import ClassroomCode, InputError
from classroom.robots.kinds.kind import (
    BodyEnds,
    ByPicture,
    CalibrationKind,
    MeasuringStep,
    OverTime,
    PictureReading,
    Run,
    SheetColumn,
)
from classroom.robots.kinds.readings import column
from classroom.site.lazily import lazily as gettext_lazy
from motion.calibration import SetDownFit, fit_set_down
from motion.units import figure, format_length, side_word

if TYPE_CHECKING:
    from classroom.models import Robot
    from motion.picture.camera.robot_moved import RobotMoved
    from motion.scene.records import Point


def _fit(robot: Robot, runs: Sequence[Run]) -> SetDownFit:
    apart = {run["marks_apart_mm"] for run in runs}
    if len(apart) > 1:
        raise InputError(
            ClassroomCode.TWO_SIZES, _("All set-downs of one measurement are against the same marks; enter them apart.")
        )
    return fit_set_down(
        column(runs, "ahead_mm"),
        column(runs, "front_left_mm"),
        column(runs, "back_left_mm"),
        apart.pop() if apart else 0.0,
    )


def _found(fit: SetDownFit, unit: str) -> str:
    place, place_u = (format_length(each, unit, decimals=1) for each in (fit.position_sd_mm, fit.position_sd_u_mm))
    words = (
        f"Set down again and again it stands within {place} of its usual place as a rule (give or take {place_u}), along "
        f"and to the side, and within {figure(fit.heading_sd_deg, 1)}° of its usual heading "
        f"(give or take {figure(fit.heading_sd_u_deg, 1)})."
    )
    return words + _always_off(fit, unit)


def _always_off(fit: SetDownFit, unit: str) -> str:
    """What all set-downs have in common, where it is more than chance."""
    off = []
    if abs(fit.along_mm) > 2 * fit.along_u_mm:
        where = "ahead" if fit.along_mm > 0 else "behind"
        off.append(f"{format_length(abs(fit.along_mm), unit)} {where}")
    if abs(fit.sideways_mm) > 2 * fit.sideways_u_mm:
        off.append(f"{format_length(abs(fit.sideways_mm), unit)} to the {side_word(fit.sideways_mm)}")
    if abs(fit.heading_deg) > 2 * fit.heading_u_deg:
        off.append(f"{figure(abs(fit.heading_deg), 1)}° turned {side_word(fit.heading_deg)}")
    if not off:
        return " On the whole it stands at its marks."
    return f" On the whole it stands {' and '.join(off)} of its marks: mind that, or move them."


def measured_set_down(robot: Robot) -> SetDownFit | None:
    """The robot's own in force. One query; none for a robot that is not kept yet."""
    if robot.pk is None:
        return None
    kept = robot.calibrations.filter(kind=SET_DOWN.key).in_force().order_by("-measured_at", "-pk").first()
    return SET_DOWN.read_back(kept.fit) if kept else None


def _front_and_back(body: BodyEnds, apart_mm: float | None) -> list[Point]:
    nose = body.nose
    return [(nose.reach_mm, nose.left_mm), (nose.reach_mm - (apart_mm or body.length_mm), nose.left_mm)]


def _read(moved: RobotMoved, apart_mm: float | None) -> tuple[PictureReading, ...]:
    (ahead, front), (_side, back) = moved.went_mm
    (ahead_sd, front_sd), (_side_sd, back_sd) = moved.sd_mm
    return (
        PictureReading("ahead", ahead, ahead_sd),
        PictureReading("front", front, front_sd),
        PictureReading("back", back, back_sd),
    )


SET_DOWN = CalibrationKind(
    key="set_down",
    label=gettext_lazy("Setting down"),
    called="setting down",
    counted="set-downs",
    # Common practice, no source.
    steps=(
        MeasuringStep("Get ready", "The start marks that you use in a run, and a ruler. The robot stays switched off."),
        MeasuringStep(
            "Mark",
            "Stick a long strip straight ahead where its middle shall stand, and one across it where its front shall be. On "
            "the robot mark the middle of its front and the middle of its back.",
        ),
        MeasuringStep(
            "Drive",
            "Nothing this time: lift it off the table, walk once round it, and set it down as you do before a run.",
        ),
        MeasuringStep(
            "Measure",
            "How far its front is ahead of the strip across; behind has a minus. How far left of the long strip the middle of "
            "its front is, then the middle of its back; to the right has a minus. Do not push it right before you read.",
        ),
        MeasuringStep("How often", "Ten times, by the child who sets it down in a run. Lift it each time."),
    ),
    columns=(
        SheetColumn("ahead", "length", label=gettext_lazy("Front ahead by"), key="ahead_mm"),
        SheetColumn("front", "length", label=gettext_lazy("Front left by"), key="front_left_mm"),
        SheetColumn("back", "length", label=gettext_lazy("Back left by"), key="back_left_mm"),
    ),
    side=SheetColumn("side", "length", label=gettext_lazy("From front to back of the robot"), key="marks_apart_mm"),
    blank_rows=10,
    fit_class=SetDownFit,
    fit_runs=_fit,
    found=_found,
    over_time=OverTime(
        caption="How far its heading varies when it is set down. The bars span twice the standard uncertainty.",
        value=lambda fit, unit: (fit.heading_sd_deg, fit.heading_sd_u_deg),
        suffix="°",
        from_zero=True,
    ),
    by_picture=ByPicture(
        first="It stands exactly at its marks: push it right until it does.",
        then="Lift it, walk once round it, and set it down as you do before a run. Do not push it right.",
        points=_front_and_back,
        read=_read,
        asks="side",
        once=True,
    ),
)
