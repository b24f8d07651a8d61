"""Straight runs: how far it goes of what it is told, and whether it curves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from django.utils.translation import gettext

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
from classroom.robots.kinds.set_down import measured_set_down
from classroom.site.figures import figure_said, in_own_digits, length_said
from classroom.site.lazily import lazily as _
from motion.calibration import StraightFit, fit_straight
from motion.units import MM_PER_UNIT, figure, format_length, nearest_step

if TYPE_CHECKING:
    from classroom.models import Robot
    from motion.picture.camera.robot_moved import RobotMoved
    from motion.scene.records import Point


def _fit(robot: Robot, runs: Sequence[Run]) -> StraightFit:
    sideways = optional_column(runs, "sideways_mm")
    down = measured_set_down(robot) if sideways is not None else None
    return fit_straight(
        column(runs, "commanded_mm"),
        column(runs, "measured_mm"),
        sideways_mm=sideways,
        set_down_sd_deg=down.heading_sd_deg if down else None,
    )


def _found(fit: StraightFit, unit: str) -> str:
    told = 100 * MM_PER_UNIT[unit] if unit != "mm" else 1000.0
    really = in_own_digits(format_length(told * fit.scale, unit, decimals=1 if unit != "mm" else 0))
    said = [
        gettext("Told %(told)s it goes %(really)s: %(off)s (give or take %(u)s %%).")
        % {
            "told": length_said(told, unit),
            "really": really,
            "off": off_in_percent(fit.scale),
            "u": figure_said(fit.scale_u * 100, 1),
        },
        gettext("Single runs differ by %(length)s as a rule.")
        % {"length": in_own_digits(format_length(fit.residual_sd_mm, unit, decimals=2))},
    ]
    drift = fit.drift_deg_per_m
    if drift is not None and fit.drift_u_deg_per_m is not None:
        if abs(drift) > 2 * fit.drift_u_deg_per_m:
            curve = (
                gettext("It curves left by %(turn)s° a metre.")
                if drift > 0
                else gettext("It curves right by %(turn)s° a metre.")
            )
            said.append(curve % {"turn": figure_said(abs(drift), 1)})
        else:
            said.append(gettext("It shows no steady curve to either side."))
    return " ".join([*said, *_spread_of_the_curve(fit)])


def _spread_of_the_curve(fit: StraightFit) -> list[str]:
    """How its curve varies, without how it was set down; nothing of records that do not tell these apart."""
    if not fit.start_heading_from or fit.drift_sd_deg_per_m is None or fit.start_heading_sd_deg is None:
        return []
    varies = float(figure(fit.drift_sd_deg_per_m, 1)) > 0
    own = fit.start_heading_from == "set_down"
    if fit.drift_alone:
        said = (
            gettext("From run to run its curve varies by %(varies)s° a metre, beside %(down)s° of setting it down.")
            if varies
            else gettext("Its curve hardly varies, beside %(down)s° of setting it down.")
        )
    elif varies:
        said = (
            gettext(
                "From run to run its curve varies by %(varies)s° a metre, once %(down)s° of setting it down "
                "(as measured by itself) is taken out."
            )
            if own
            else gettext(
                "From run to run its curve varies by %(varies)s° a metre, once %(down)s° of setting it down "
                "(a kit's usual) is taken out."
            )
        )
    else:
        said = (
            gettext("Its curve hardly varies, once %(down)s° of setting it down (as measured by itself) is taken out.")
            if own
            else gettext("Its curve hardly varies, once %(down)s° of setting it down (a kit's usual) is taken out.")
        )
    numbers = {
        "varies": figure_said(fit.drift_sd_deg_per_m, 1),
        "down": figure_said(fit.start_heading_sd_deg, 1),
    }
    if fit.drift_alone:
        return [said % numbers]
    more = gettext("To tell the two apart, measure as many runs again at a second distance, twice as long.")
    return [said % numbers, more]


def _corrections(fit: StraightFit, robot: Robot, unit: str) -> list[Correction]:
    size = 254.0 if unit == "in" else 250.0
    return [_distance(fit, robot, unit, times * size) for times in (1, 2, 3, 4)]


def _distance(fit: StraightFit, robot: Robot, unit: str, wanted_mm: float) -> Correction:
    typed = fit.to_type(wanted_mm)
    settable = nearest_step(typed, robot.distance_step_mm)
    return Correction(
        gettext("go %(length)s") % {"length": length_said(wanted_mm, unit)},
        in_own_digits(format_length(typed, unit, decimals=0 if unit == "mm" else 2)),
        in_own_digits(format_length(settable, unit, decimals=0 if unit == "mm" else 2)),
    )


def _settings(fit: StraightFit, robot: Robot, unit: str) -> list[tuple[str, str]]:
    diameter = fit.wheel_diameter(robot.wheel_diameter_mm)
    return [
        (gettext("Wheel diameter"), in_own_digits(format_length(diameter, unit, decimals=1 if unit == "mm" else 2)))
    ]


def _front(body: BodyEnds, told: float | None) -> list[Point]:
    return [(body.nose.reach_mm, body.nose.left_mm)]


def _read(moved: RobotMoved, told: float | None) -> tuple[PictureReading, ...]:
    (ahead, left), (ahead_sd, left_sd) = moved.went_mm[0], moved.sd_mm[0]
    return PictureReading("measured", ahead, ahead_sd), PictureReading("sideways", left, left_sd)


STRAIGHT = CalibrationKind(
    key="straight",
    label=_("Straight runs"),
    called=_("straight runs"),
    counted=_("straight runs"),
    # Common practice, no source.
    steps=(
        READY,
        MeasuringStep(
            _("Mark"),
            _(
                "Stick a strip of tape across the table and set the front of the robot against it. To see whether it curves, "
                "stick a long strip straight ahead from the middle of its front."
            ),
        ),
        MeasuringStep(_("Drive"), _("Tell it a distance and let it stop by itself.")),
        MeasuringStep(
            _("Measure"),
            _(
                "From the first strip to the same spot of its front, with the tape flat. Write what the tape says, not what you "
                "expect. For the curve: how far left of the long strip that spot is; to the right with a minus."
            ),
        ),
        MeasuringStep(
            _("How often"),
            _(
                "At least five runs at two distances: three short ones and three twice as long are good. For the curve five of "
                "each: only two distances tell a curve from a robot that was set down askew."
            ),
        ),
    ),
    columns=(
        SheetColumn("commanded", "length", label=_("Told"), key="commanded_mm", digits_only=True),
        SheetColumn("measured", "length", label=_("Measured"), key="measured_mm", digits_only=True),
        SheetColumn("sideways", "length", needed=False, label=_("Ended left by"), key="sideways_mm"),
    ),
    fit_class=StraightFit,
    fit_runs=_fit,
    found=_found,
    corrections=_corrections,
    settings=_settings,
    over_time=OverTime(
        caption=_("How far it goes of what it is told. The bars span twice the standard uncertainty."),
        value=lambda fit, unit: (fit.scale * 100, fit.scale_u * 100),
        suffix=" %",
    ),
    puts_right=frozenset({"distance_scale", "drift"}),
    by_picture=ByPicture(
        first=_("It stands where its run begins."),
        then=_("It has driven and stopped. Leave it there."),
        points=_front,
        read=_read,
        asks="commanded",
    ),
)
