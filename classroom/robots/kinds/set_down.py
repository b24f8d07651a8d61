"""Setting down: how exactly the robot is put against its marks before a run."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from django.utils.translation import gettext

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
from classroom.site.figures import figure_said, in_own_digits, length_said
from classroom.site.lazily import lazily as _
from classroom.site.listed import strung
from motion.calibration import SetDownFit, fit_set_down
from motion.units import format_length

if TYPE_CHECKING:
    from classroom.models import Robot
    from motion.picture.camera.robot_moved import RobotMoved
    from motion.scene.records import Point


def _fit(robot: Robot, runs: Sequence[Run]) -> SetDownFit:
    apart = {run["marks_apart_mm"] for run in runs}
    if len(apart) > 1:
        raise InputError(
            ClassroomCode.TWO_SIZES,
            gettext("All set-downs of one measurement are against the same marks; enter them apart."),
        )
    return fit_set_down(
        column(runs, "ahead_mm"),
        column(runs, "front_left_mm"),
        column(runs, "back_left_mm"),
        apart.pop() if apart else 0.0,
    )


def _found(fit: SetDownFit, unit: str) -> str:
    place, place_u = (
        in_own_digits(format_length(each, unit, decimals=1)) for each in (fit.position_sd_mm, fit.position_sd_u_mm)
    )
    usual = gettext(
        "Set down again and again it stands within %(place)s of its usual place as a rule (give or take %(place_u)s), along "
        "and to the side, and within %(heading)s° of its usual heading (give or take %(heading_u)s)."
    ) % {
        "place": place,
        "place_u": place_u,
        "heading": figure_said(fit.heading_sd_deg, 1),
        "heading_u": figure_said(fit.heading_sd_u_deg, 1),
    }
    return " ".join((usual, _always_off(fit, unit)))


def _always_off(fit: SetDownFit, unit: str) -> str:
    """What all set-downs have in common, where it is more than chance."""
    off = []
    if abs(fit.along_mm) > 2 * fit.along_u_mm:
        said = gettext("%(length)s ahead") if fit.along_mm > 0 else gettext("%(length)s behind")
        off.append(said % {"length": length_said(abs(fit.along_mm), unit)})
    if abs(fit.sideways_mm) > 2 * fit.sideways_u_mm:
        said = gettext("%(length)s to the left") if fit.sideways_mm > 0 else gettext("%(length)s to the right")
        off.append(said % {"length": length_said(abs(fit.sideways_mm), unit)})
    if abs(fit.heading_deg) > 2 * fit.heading_u_deg:
        said = gettext("%(turn)s° turned left") if fit.heading_deg > 0 else gettext("%(turn)s° turned right")
        off.append(said % {"turn": figure_said(abs(fit.heading_deg), 1)})
    if not off:
        return gettext("On the whole it stands at its marks.")
    return gettext("On the whole it stands %(off)s of its marks: mind that, or move them.") % {"off": strung(off)}


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
    label=_("Setting down"),
    called=_("setting down"),
    counted=_("set-downs"),
    # Common practice, no source.
    steps=(
        MeasuringStep(
            _("Get ready"), _("The start marks that you use in a run, and a ruler. The robot stays switched off.")
        ),
        MeasuringStep(
            _("Mark"),
            _(
                "Stick a long strip straight ahead where its middle shall stand, and one across it where its front shall be. On "
                "the robot mark the middle of its front and the middle of its back."
            ),
        ),
        MeasuringStep(
            _("Drive"),
            _("Nothing this time: lift it off the table, walk once round it, and set it down as you do before a run."),
        ),
        MeasuringStep(
            _("Measure"),
            _(
                "How far its front is ahead of the strip across; behind has a minus. How far left of the long strip the middle of "
                "its front is, then the middle of its back; to the right has a minus. Do not push it right before you read."
            ),
        ),
        MeasuringStep(_("How often"), _("Ten times, by the child who sets it down in a run. Lift it each time.")),
    ),
    columns=(
        SheetColumn("ahead", "length", label=_("Front ahead by"), key="ahead_mm"),
        SheetColumn("front", "length", label=_("Front left by"), key="front_left_mm"),
        SheetColumn("back", "length", label=_("Back left by"), key="back_left_mm"),
    ),
    side=SheetColumn("side", "length", label=_("From front to back of the robot"), key="marks_apart_mm"),
    blank_rows=10,
    fit_class=SetDownFit,
    fit_runs=_fit,
    found=_found,
    over_time=OverTime(
        caption=_("How far its heading varies when it is set down. The bars span twice the standard uncertainty."),
        value=lambda fit, unit: (fit.heading_sd_deg, fit.heading_sd_u_deg),
        suffix="°",
        from_zero=True,
    ),
    by_picture=ByPicture(
        first=_("It stands exactly at its marks: push it right until it does."),
        then=_("Lift it, walk once round it, and set it down as you do before a run. Do not push it right."),
        points=_front_and_back,
        read=_read,
        asks="side",
        once=True,
    ),
)
