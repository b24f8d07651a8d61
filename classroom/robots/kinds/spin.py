"""Spins: how far it turns of what it is told, and what its own yaw counts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from django.utils.translation import gettext

from classroom.errors import ClassroomCode, InputError
from classroom.robots.kinds.kind import (
    READY,
    BodyEnds,
    ByPicture,
    CalibrationKind,
    Correction,
    MeasuringStep,
    OverTime,
    PictureReading,
    Run,
    SheetColumn,
)
from classroom.robots.kinds.readings import column, optional_column
from classroom.robots.kinds.scale_words import off_in_percent
from classroom.site.figures import figure_said, in_own_digits
from classroom.site.lazily import lazily as _
from motion.calibration import SpinFit, fit_spin
from motion.units import format_length, nearest_step

if TYPE_CHECKING:
    from classroom.models import Robot
    from motion.picture.camera.robot_moved import RobotMoved
    from motion.scene.records import Point


#: The commonest turn of a course.
USUAL_TURN_DEG = 90.0


def _fit(robot: Robot, runs: Sequence[Run]) -> SpinFit:
    return fit_spin(
        column(runs, "commanded_deg"), column(runs, "measured_deg"), yaw_deg=optional_column(runs, "yaw_deg")
    )


def _found(fit: SpinFit, unit: str) -> str:
    said = [
        gettext("Told 360° it turns %(turn)s°: %(off)s (give or take %(u)s %%).")
        % {
            "turn": figure_said(360 * fit.turn_scale + (fit.turn_bias_deg or 0.0), 1),
            "off": off_in_percent(fit.turn_scale),
            "u": figure_said(fit.turn_scale_u * 100, 1),
        },
        gettext("Single spins differ by %(turn)s° as a rule.") % {"turn": figure_said(fit.residual_sd_deg, 1)},
    ]
    if fit.turn_bias_deg is not None and abs(fit.turn_bias_deg) > 2 * (fit.turn_bias_u_deg or 0.0):
        ends = (
            gettext("Every turn, small or large, ends %(turn)s° too far.")
            if fit.turn_bias_deg > 0
            else gettext("Every turn, small or large, ends %(turn)s° too short.")
        )
        said.append(ends % {"turn": figure_said(abs(fit.turn_bias_deg), 1)})
    said += _what_is_lacking(fit)
    if fit.yaw_scale is not None:
        counts = figure_said(fit.yaw_scale * 360, 1)
        said.append(gettext("Its own yaw counts %(turn)s° for a whole turn.") % {"turn": counts})
    return " ".join(said)


def _what_is_lacking(fit: SpinFit) -> list[str]:
    """How a turn of a course scatters, and the turns to add where these do not say; nothing of older records."""
    if fit.turn_sd_deg is None:
        return []
    varies = figure_said(fit.sd_of_turn(90.0), 1)
    if fit.ask_for_deg is None:
        return [gettext("A turn of 90° varies by %(varies)s° as a rule.") % {"varies": varies}]
    add = (
        gettext(
            "To be told instead of guessed, and to tell a turn that is too large from one that ends too late, "
            "add spins of %(told)s°, the turns of most courses: three to each side."
        )
        if fit.ask_for_deg == USUAL_TURN_DEG
        else gettext(
            "To be told instead of guessed, and to tell a turn that is too large from one that ends too late, "
            "add spins of %(told)s°: three to each side."
        )
    )
    return [
        gettext("A turn of 90° varies by %(varies)s°, if it grows with the angle as a kit's usually does.")
        % {"varies": varies},
        add % {"told": figure_said(fit.ask_for_deg)},
    ]


def _corrections(fit: SpinFit, robot: Robot, unit: str) -> list[Correction]:
    return [
        Correction(
            gettext("turn %(turn)s°") % {"turn": figure_said(turn)},
            f"{figure_said(fit.to_type(turn), 1)}°",
            in_own_digits(f"{nearest_step(fit.to_type(turn), robot.turn_step_deg):g}°"),
        )
        for turn in (45.0, 90.0, 135.0, 180.0)
    ]


def _settings(fit: SpinFit, robot: Robot, unit: str) -> list[tuple[str, str]]:
    width = fit.track_width(robot.track_width_mm)
    return [(gettext("Track width"), in_own_digits(format_length(width, unit, decimals=1 if unit == "mm" else 2)))]


def _axle(body: BodyEnds, told: float | None) -> list[Point]:
    return [(0.0, 0.0)]


def _read(moved: RobotMoved, told: float | None) -> tuple[PictureReading, ...]:
    """A picture does not count whole turns: what the robot was told says how many there were."""
    if not told:
        raise InputError(
            ClassroomCode.MISSING_READING,
            gettext("Write first what it was told: whole turns cannot be seen in a picture."),
        )
    return (PictureReading("measured", moved.turned_near(told), moved.turned_sd_deg),)


SPIN = CalibrationKind(
    key="spin",
    label=_("Spins"),
    called=_("spins"),
    counted=_("spins"),
    # Common practice, no source.
    steps=(
        READY,
        MeasuringStep(
            _("Mark"),
            _(
                "Stick a strip of tape on the table that points straight away from the robot's nose, and one to its left and "
                "its right, each at a right angle to the first."
            ),
        ),
        MeasuringStep(
            _("Drive"), _("Tell it three whole turns on the spot: 1080°. Then turns of 90°, as in a course.")
        ),
        MeasuringStep(
            _("Measure"),
            _(
                "How many degrees it stops short of the strip or past it. 9° short after 1080°: write 1071. 9° past: write 1089. "
                "Turns to the right have a minus."
            ),
        ),
        MeasuringStep(
            _("How often"),
            _(
                "Twelve: three whole turns three times to the left and three times to the right, and 90° as often. "
                "Only both sizes tell how much a small turn varies."
            ),
        ),
    ),
    columns=(
        SheetColumn("commanded", "angle", label=_("Told"), key="commanded_deg"),
        SheetColumn("measured", "angle", label=_("Seen by the mark"), key="measured_deg", as_told=True),
        SheetColumn("yaw", "angle", needed=False, label=_("Its own yaw counted"), key="yaw_deg", as_told=True),
    ),
    blank_rows=12,
    fit_class=SpinFit,
    fit_runs=_fit,
    found=_found,
    corrections=_corrections,
    settings=_settings,
    over_time=OverTime(
        caption=_("How far it turns of what it is told. The bars span twice the standard uncertainty."),
        value=lambda fit, unit: (fit.turn_scale * 100, fit.turn_scale_u * 100),
        suffix=" %",
    ),
    puts_right=frozenset({"turn_scale", "turn_bias"}),
    by_picture=ByPicture(
        first=_("It stands ready to turn."),
        then=_("It has turned and stopped. Leave it there."),
        points=_axle,
        read=_read,
        asks="commanded",
    ),
)
