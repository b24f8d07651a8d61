"""A calibration in words a team can act on: what was found, what to type instead, what to mind while measuring."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from classroom.models import CalibrationKind, Robot
from motion.calibration import RestDriftFit, SpinFit, SquareFit, StraightFit
from motion.units import MM_PER_UNIT, figure, format_length, nearest_step, side_word

Fit = StraightFit | SpinFit | SquareFit | RestDriftFit


@dataclass(frozen=True)
class Correction:
    """To get ``wanted`` really, type ``typed``; ``settable`` is the nearest that the robot can be told."""

    wanted: str
    typed: str
    settable: str = ""


def found(fit: Fit, unit: str) -> str:
    """What the fit says, in one or two sentences."""
    if isinstance(fit, StraightFit):
        return _straight(fit, unit)
    if isinstance(fit, SpinFit):
        return _spin(fit)
    if isinstance(fit, SquareFit):
        return _square(fit, unit)
    rate = abs(fit.deg_per_minute)
    if rate < 2 * fit.u_deg_per_minute:
        return f"At rest its yaw stays put, within {figure(2 * fit.u_deg_per_minute, 1)}° a minute."
    return (
        f"At rest its yaw wanders {figure(fit.deg_per_minute, 1, sign=True)}° a minute "
        f"(give or take {figure(fit.u_deg_per_minute, 1)}): {figure(abs(fit.over(45.0)), 1)}° in a run of 45 s."
    )


def _straight(fit: StraightFit, unit: str) -> str:
    told = 100 * MM_PER_UNIT[unit] if unit != "mm" else 1000.0
    really = format_length(told * fit.scale, unit, decimals=1 if unit != "mm" else 0)
    words = (
        f"Told {format_length(told, unit)} it goes {really}: {_percent(fit.scale)} "
        f"(give or take {figure(fit.scale_u * 100, 1)} %). "
        f"Single runs differ by {format_length(fit.residual_sd_mm, unit, decimals=2)} as a rule."
    )
    drift = fit.drift_deg_per_m
    if drift is not None and fit.drift_u_deg_per_m is not None:
        if abs(drift) > 2 * fit.drift_u_deg_per_m:
            words += f" It curves {side_word(drift)} by {figure(abs(drift), 1)}° a metre."
        else:
            words += " It shows no steady curve to either side."
    return words


def _spin(fit: SpinFit) -> str:
    words = (
        f"Told 360° it turns {figure(360 * fit.turn_scale + (fit.turn_bias_deg or 0.0), 1)}°: "
        f"{_percent(fit.turn_scale)} (give or take {figure(fit.turn_scale_u * 100, 1)} %). "
        f"Single spins differ by {figure(fit.residual_sd_deg, 1)}° as a rule."
    )
    if fit.turn_bias_deg is not None and abs(fit.turn_bias_deg) > 2 * (fit.turn_bias_u_deg or 0.0):
        words += (
            f" Every turn, small or large, ends {figure(abs(fit.turn_bias_deg), 1)}° too "
            f"{'far' if fit.turn_bias_deg > 0 else 'short'}."
        )
    if fit.yaw_scale is not None:
        words += f" Its own yaw counts {figure(fit.yaw_scale * 360, 1)}° for a whole turn."
    return words


def _square(fit: SquareFit, unit: str) -> str:
    corner, curve = figure(abs(fit.alpha_deg), 2), figure(abs(fit.beta_deg), 2)
    turns = f"{corner}° {'short' if fit.alpha_deg > 0 else 'too far'}" if float(corner) else "as it is told"
    drives = f"curves {side_word(fit.beta_deg)} by {curve}°" if float(curve) else "runs straight"
    return (
        f"Each corner turns {turns}, and on one side of the square it {drives}. The return missed by up to "
        f"{format_length(fit.largest_error_mm, unit)}; runs scatter by {format_length(fit.scatter_mm, unit)}."
    )


def _percent(scale: float) -> str:
    off = (scale - 1) * 100
    size = figure(abs(off), 1)
    return "just what it is told" if size == "0.0" else f"{size} % too {'far' if off > 0 else 'little'}"


def corrections(fit: Fit, robot: Robot, unit: str) -> list[Correction]:
    """What to type so that the robot really does what is wanted."""
    if isinstance(fit, StraightFit):
        size = 254.0 if unit == "in" else 250.0
        return [_distance(fit, robot, unit, times * size) for times in (1, 2, 3, 4)]
    if isinstance(fit, SpinFit):
        return [
            Correction(
                f"turn {figure(turn)}°",
                f"{figure(fit.to_type(turn), 1)}°",
                f"{nearest_step(fit.to_type(turn), robot.turn_step_deg):g}°",
            )
            for turn in (45.0, 90.0, 135.0, 180.0)
        ]
    return []


def _distance(fit: StraightFit, robot: Robot, unit: str, wanted_mm: float) -> Correction:
    typed = fit.to_type(wanted_mm)
    settable = nearest_step(typed, robot.distance_step_mm)
    return Correction(
        f"go {format_length(wanted_mm, unit)}",
        format_length(typed, unit, decimals=0 if unit == "mm" else 2),
        format_length(settable, unit, decimals=0 if unit == "mm" else 2),
    )


def settings_to_type(fit: Fit, robot: Robot, unit: str) -> list[tuple[str, str]]:
    """(setting, value) for kits in which wheel and track sizes can be set."""
    digits = 1 if unit == "mm" else 2
    if isinstance(fit, StraightFit):
        return [("Wheel diameter", format_length(fit.wheel_diameter(robot.wheel_diameter_mm), unit, decimals=digits))]
    if isinstance(fit, SpinFit):
        return [("Track width", format_length(fit.track_width(robot.track_width_mm), unit, decimals=digits))]
    if isinstance(fit, SquareFit):
        return [
            ("Track width", format_length(fit.track_to_type_mm, unit, decimals=digits)),
            ("Left wheel: multiply its distances by", figure(fit.left_factor, 4)),
            ("Right wheel: multiply its distances by", figure(fit.right_factor, 4)),
        ]
    return []


class MeasuringStep(NamedTuple):
    """One thing to do while measuring, under the word that it answers."""

    head: str
    words: str


_READY = MeasuringStep("Get ready", "The table of the mission, a charged battery, clean tyres.")
#: How to measure, step by step. Common practice, no source, but for the square (see motion.calibration.square).
STEPS: dict[str, tuple[MeasuringStep, ...]] = {
    CalibrationKind.STRAIGHT: (
        _READY,
        MeasuringStep(
            "Mark",
            "Stick a strip of tape across the table and set the front of the robot against it. To see whether it curves, "
            "stick a long strip straight ahead from the middle of its front.",
        ),
        MeasuringStep("Drive", "Tell it a distance and let it stop by itself."),
        MeasuringStep(
            "Measure",
            "From the first strip to the same spot of its front, with the tape flat. Write what the tape says, not what you "
            "expect. For the curve: how far left of the long strip that spot is; to the right with a minus.",
        ),
        MeasuringStep(
            "How often", "At least five runs at two distances: three short ones and three long ones are good."
        ),
    ),
    CalibrationKind.SPIN: (
        _READY,
        MeasuringStep("Mark", "Stick a strip of tape on the table that points straight away from the robot's nose."),
        MeasuringStep("Drive", "Tell it three whole turns on the spot: 1080°."),
        MeasuringStep(
            "Measure",
            "How many degrees it stops short of the strip or past it. 9° short after 1080°: write 1071. 9° past: write 1089. "
            "Turns to the right have a minus.",
        ),
        MeasuringStep("How often", "Six spins: three to the left and three to the right."),
    ),
    CalibrationKind.SQUARE: (
        _READY,
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
    CalibrationKind.REST_DRIFT: (
        MeasuringStep("Get ready", "A charged battery, and a place where nobody touches the table in the meantime."),
        MeasuringStep("Mark", "Nothing this time: it does not move."),
        MeasuringStep(
            "Measure",
            "Switch the robot on, leave it alone, and read its yaw now (0 s) and every minute after: 60 s, 120 s …",
        ),
        MeasuringStep("How often", "Five readings: now, and after one, two, three and four minutes."),
    ),
}
#: Shown where the measuring happens; local rules and the kit maker's instructions come first.
CAUTION = (
    "Keep fingers, hair and lanyards away from wheels and tool while it moves; stop it and switch it off before you touch "
    "it. Let a falling robot fall. Your club's rules and the kit maker's instructions come first."
)
