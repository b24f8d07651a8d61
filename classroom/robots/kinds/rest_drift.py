"""Resting drift: how fast the yaw of a robot that stands still wanders."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from django.utils.translation import gettext

from classroom.robots.kinds.kind import CalibrationKind, MeasuringStep, OverTime, Run, SheetColumn
from classroom.robots.kinds.readings import column
from classroom.site.figures import figure_said
from classroom.site.lazily import lazily as _
from motion.calibration import RestDriftFit, fit_rest_drift

if TYPE_CHECKING:
    from classroom.models import Robot


def _fit(robot: Robot, runs: Sequence[Run]) -> RestDriftFit:
    return fit_rest_drift(column(runs, "seconds"), column(runs, "yaw_deg"))


def _found(fit: RestDriftFit, unit: str) -> str:
    rate = abs(fit.deg_per_minute)
    if rate < 2 * fit.u_deg_per_minute:
        return gettext("At rest its yaw stays put, within %(turn)s° a minute.") % {
            "turn": figure_said(2 * fit.u_deg_per_minute, 1)
        }
    return gettext("At rest its yaw wanders %(rate)s° a minute (give or take %(u)s): %(turn)s° in a run of 45 s.") % {
        "rate": figure_said(fit.deg_per_minute, 1, sign=True),
        "u": figure_said(fit.u_deg_per_minute, 1),
        "turn": figure_said(abs(fit.over(45.0)), 1),
    }


REST_DRIFT = CalibrationKind(
    key="rest_drift",
    label=_("Resting drift"),
    called=_("resting drift"),
    counted=_("readings at rest"),
    # Common practice, no source.
    steps=(
        MeasuringStep(
            _("Get ready"), _("A charged battery, and a place where nobody touches the table in the meantime.")
        ),
        MeasuringStep(_("Mark"), _("Nothing this time: it does not move.")),
        MeasuringStep(
            _("Measure"),
            _("Switch the robot on, leave it alone, and read its yaw now (0 s) and every minute after: 60 s, 120 s …"),
        ),
        MeasuringStep(_("How often"), _("Five readings: now, and after one, two, three and four minutes.")),
    ),
    columns=(
        SheetColumn("seconds", "number", label=_("After (s)"), key="seconds", digits_only=True),
        SheetColumn("yaw", "angle", label=_("Yaw reads"), key="yaw_deg"),
    ),
    fit_class=RestDriftFit,
    fit_runs=_fit,
    found=_found,
    over_time=OverTime(
        caption=_("How fast its yaw wanders at rest. The bars span twice the standard uncertainty."),
        value=lambda fit, unit: (fit.deg_per_minute, fit.u_deg_per_minute),
        suffix="°/min",
    ),
)
