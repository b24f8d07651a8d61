"""A calibration in words a team can act on: what was found, what to type instead, what to mind while measuring."""

from __future__ import annotations

from dataclasses import dataclass

from classroom.models import CalibrationKind, Robot
from motion.calibration import RestDriftFit, SpinFit, SquareFit, StraightFit
from motion.units import MM_PER_UNIT, format_length, side_word

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
        return f"At rest its yaw stays put, within {2 * fit.u_deg_per_minute:.1f}° a minute."
    return (
        f"At rest its yaw wanders {fit.deg_per_minute:+.1f}° a minute (give or take {fit.u_deg_per_minute:.1f}): "
        f"{abs(fit.over(45.0)):.1f}° in a run of 45 s."
    )


def _straight(fit: StraightFit, unit: str) -> str:
    told = 100 * MM_PER_UNIT[unit] if unit != "mm" else 1000.0
    really = format_length(told * fit.scale, unit, decimals=1 if unit != "mm" else 0)
    words = (
        f"Told {format_length(told, unit)} it goes {really}: {_percent(fit.scale)} "
        f"(give or take {fit.scale_u * 100:.1f} %). "
        f"Single runs differ by {format_length(fit.residual_sd_mm, unit, decimals=2)} as a rule."
    )
    drift = fit.drift_deg_per_m
    if drift is not None and fit.drift_u_deg_per_m is not None:
        if abs(drift) > 2 * fit.drift_u_deg_per_m:
            words += f" It curves {side_word(drift)} by {abs(drift):.1f}° a metre."
        else:
            words += " It shows no steady curve to either side."
    return words


def _spin(fit: SpinFit) -> str:
    words = (
        f"Told 360° it turns {360 * fit.turn_scale + (fit.turn_bias_deg or 0.0):.1f}°: {_percent(fit.turn_scale)} "
        f"(give or take {fit.turn_scale_u * 100:.1f} %). Single spins differ by {fit.residual_sd_deg:.1f}° as a rule."
    )
    if fit.turn_bias_deg is not None and abs(fit.turn_bias_deg) > 2 * (fit.turn_bias_u_deg or 0.0):
        words += (
            f" Every turn, small or large, ends {abs(fit.turn_bias_deg):.1f}° too "
            f"{'far' if fit.turn_bias_deg > 0 else 'short'}."
        )
    if fit.yaw_scale is not None:
        words += f" Its own yaw counts {fit.yaw_scale * 360:.1f}° for a whole turn."
    return words


def _square(fit: SquareFit, unit: str) -> str:
    corner = "short" if fit.alpha_deg > 0 else "too far"
    return (
        f"Each corner turns {abs(fit.alpha_deg):.2f}° {corner}, and on one side of the square it curves "
        f"{side_word(fit.beta_deg)} by {abs(fit.beta_deg):.2f}°. The return missed by up to "
        f"{format_length(fit.largest_error_mm, unit)}; runs scatter by {format_length(fit.scatter_mm, unit)}."
    )


def _percent(scale: float) -> str:
    off = (scale - 1) * 100
    if abs(off) < 0.05:
        return "just what it is told"
    return f"{abs(off):.1f} % too {'far' if off > 0 else 'little'}"


def corrections(fit: Fit, robot: Robot, unit: str) -> list[Correction]:
    """What to type so that the robot really does what is wanted."""
    if isinstance(fit, StraightFit):
        size = 254.0 if unit == "in" else 250.0
        return [_distance(fit, robot, unit, times * size) for times in (1, 2, 3, 4)]
    if isinstance(fit, SpinFit):
        return [
            Correction(
                f"turn {turn:.0f}°",
                f"{fit.to_type(turn):.1f}°",
                f"{round(fit.to_type(turn) / robot.turn_step_deg) * robot.turn_step_deg:g}°",
            )
            for turn in (45.0, 90.0, 135.0, 180.0)
        ]
    return []


def _distance(fit: StraightFit, robot: Robot, unit: str, wanted_mm: float) -> Correction:
    typed = fit.to_type(wanted_mm)
    settable = round(typed / robot.distance_step_mm) * robot.distance_step_mm
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
            ("Left wheel: multiply its distances by", f"{fit.left_factor:.4f}"),
            ("Right wheel: multiply its distances by", f"{fit.right_factor:.4f}"),
        ]
    return []


#: How to measure, step by step. Common practice, no source, but for the square (see motion.calibration_square).
STEPS: dict[str, tuple[str, ...]] = {
    CalibrationKind.STRAIGHT: (
        "Use the table of the mission and a charged battery.",
        "Mark where the front of the robot stands. Tell it a distance, let it stop, and measure where the same spot of its front ends.",
        "Do at least five runs, at two distances or more. Write down what the tape says, not what you expect.",
        "To see whether it curves, also measure how far left (right is negative) of the straight line it ends.",
    ),
    CalibrationKind.SPIN: (
        "Stick a mark on the table in front of the robot's nose.",
        "Tell it three whole turns (1080°), one way and the other. Measure by eye how far past or short of the mark it stops.",
        "Stopped 9° short of the mark after 1080°: write 1071. Turns to the right have a minus.",
    ),
    CalibrationKind.SQUARE: (
        "Drive a square and come back to the start: five times turning right (clockwise), five times turning left.",
        "Measure where it ends against where it started: ahead (x) and left (y) as the robot looked at the start; behind and right are negative.",
    ),
    CalibrationKind.REST_DRIFT: (
        "Switch the robot on, leave it alone, and read its yaw at the start and after one, two, three and four minutes.",
        "Nobody touches the table in the meantime.",
    ),
}
#: Shown where the measuring happens; local rules and the kit maker's instructions come first.
CAUTION = (
    "Keep fingers, hair and lanyards away from wheels and tool while it moves; stop it and switch it off before you touch "
    "it. Let a falling robot fall. Your club's rules and the kit maker's instructions come first."
)
