"""Resting drift: how fast the yaw of a robot that stands still wanders."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from classroom.robots.kinds.kind import CalibrationKind, MeasuringStep, OverTime, Run, SheetColumn
from classroom.robots.kinds.readings import column
from classroom.site.lazily import lazily as _
from motion.calibration import RestDriftFit, fit_rest_drift
from motion.units import figure

if TYPE_CHECKING:
    from classroom.models import Robot


def _fit(robot: Robot, runs: Sequence[Run]) -> RestDriftFit:
    return fit_rest_drift(column(runs, "seconds"), column(runs, "yaw_deg"))


def _found(fit: RestDriftFit, unit: str) -> str:
    rate = abs(fit.deg_per_minute)
    if rate < 2 * fit.u_deg_per_minute:
        return f"At rest its yaw stays put, within {figure(2 * fit.u_deg_per_minute, 1)}° a minute."
    return (
        f"At rest its yaw wanders {figure(fit.deg_per_minute, 1, sign=True)}° a minute "
        f"(give or take {figure(fit.u_deg_per_minute, 1)}): {figure(abs(fit.over(45.0)), 1)}° in a run of 45 s."
    )


REST_DRIFT = CalibrationKind(
    key="rest_drift",
    label=_("Resting drift"),
    called="resting drift",
    counted="readings at rest",
    # Common practice, no source.
    steps=(
        MeasuringStep("Get ready", "A charged battery, and a place where nobody touches the table in the meantime."),
        MeasuringStep("Mark", "Nothing this time: it does not move."),
        MeasuringStep(
            "Measure",
            "Switch the robot on, leave it alone, and read its yaw now (0 s) and every minute after: 60 s, 120 s …",
        ),
        MeasuringStep("How often", "Five readings: now, and after one, two, three and four minutes."),
    ),
    columns=(
        SheetColumn("seconds", "number", label=_("After (s)"), key="seconds", digits_only=True),
        SheetColumn("yaw", "angle", label=_("Yaw reads"), key="yaw_deg"),
    ),
    fit_class=RestDriftFit,
    fit_runs=_fit,
    found=_found,
    over_time=OverTime(
        caption="How fast its yaw wanders at rest. The bars span twice the standard uncertainty.",
        value=lambda fit, unit: (fit.deg_per_minute, fit.u_deg_per_minute),
        suffix="°/min",
    ),
)
