"""Has the robot changed since its last calibration? In words, with how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy import special

from motion.calibration.square import SquareFit
from motion.calibration.straight import StraightFit
from motion.calibration.turning import RestDriftFit, SpinFit
from motion.errors import FitError, MotionCode
from motion.units import figure

Fit = StraightFit | SpinFit | SquareFit | RestDriftFit


@dataclass(frozen=True)
class Change:
    """One number of a robot, then and now.

    ``probability`` is the two-sided chance of a difference at least this large when nothing changed (Welch's t);
    ``sure`` is "clear" under 0.01, "likely" under 0.05, else "none".
    """

    what: str
    before: float
    now: float
    difference: float
    difference_u: float
    probability: float
    sure: str
    sentence: str


def compare(now: Fit, before: Fit, since: str = "last time") -> tuple[Change, ...]:
    """Compare two fits of the same kind.

    Parameters
    ----------
    now, before
        Two straight, spin, square or resting-drift fits.
    since
        Words for when ``before`` was, such as ``"October"``.

    Raises
    ------
    FitError
        ``other_kind``.
    """
    if isinstance(now, StraightFit) and isinstance(before, StraightFit):
        parts = [("distance", now.scale, now.scale_u, before.scale, before.scale_u)]
    elif isinstance(now, SpinFit) and isinstance(before, SpinFit):
        parts = [("turn", now.turn_scale, now.turn_scale_u, before.turn_scale, before.turn_scale_u)]
    elif isinstance(now, SquareFit) and isinstance(before, SquareFit):
        parts = [
            ("wheels", now.wheel_ratio, now.wheel_ratio_u, before.wheel_ratio, before.wheel_ratio_u),
            ("track", now.track_ratio, now.track_ratio_u, before.track_ratio, before.track_ratio_u),
        ]
    elif isinstance(now, RestDriftFit) and isinstance(before, RestDriftFit):
        parts = [("rest", now.deg_per_minute, now.u_deg_per_minute, before.deg_per_minute, before.u_deg_per_minute)]
    else:
        raise FitError(MotionCode.OTHER_KIND, "These are two kinds of calibration; compare a kind with itself.")
    fitted = {"wheels": 2, "track": 2, "rest": 2}
    return tuple(
        _change(what, a, ua, b, ub, now.runs - fitted.get(what, 1), before.runs - fitted.get(what, 1), since)
        for what, a, ua, b, ub in parts
    )


def _change(
    what: str, now: float, now_u: float, before: float, before_u: float, now_free: int, before_free: int, since: str
) -> Change:
    difference, u = now - before, math.hypot(now_u, before_u)
    if u == 0.0:
        probability = 1.0 if difference == 0.0 else 0.0
    else:
        # Welch-Satterthwaite, GUM (JCGM 100:2008) G.4.1
        free = u**4 / (now_u**4 / max(now_free, 1) + before_u**4 / max(before_free, 1))
        probability = 2.0 * float(special.stdtr(free, -abs(difference) / u))
    sure = "clear" if probability < 0.01 else "likely" if probability < 0.05 else "none"
    return Change(
        what, before, now, difference, u, probability, sure, _sentence(what, before, difference, u, sure, since)
    )


def _sentence(what: str, before: float, difference: float, u: float, sure: str, since: str) -> str:
    hedge = "" if sure == "clear" else "perhaps "
    if what == "rest":
        if sure == "none":
            return f"The yaw at rest wanders as fast as {since}, within the spread of the runs."
        size = f"{figure(difference, 1, sign=True)} ± {figure(u, 1)}"
        return f"The yaw at rest {hedge}wanders {size} degrees a minute against {since}."
    percent, percent_u = 100.0 * difference / before, 100.0 * u / before
    size = f"{figure(abs(percent), 1)} ± {figure(percent_u, 1)} %"
    if sure == "none":
        subject = {"distance": "Distances", "turn": "Turns", "wheels": "The wheels", "track": "The track"}[what]
        return f"{subject} come out as {since}, within the spread of the runs."
    more = percent > 0
    if what == "distance":
        return (
            f"The wheels {hedge}look {size} {'larger' if more else 'smaller'} since {since}: "
            "check the tyres, then the battery."
        )
    if what == "turn":
        return (
            f"Turns {hedge}come out {size} {'larger' if more else 'smaller'} since {since}: "
            "check the tyres, the surface and the battery."
        )
    if what == "wheels":
        return (
            f"The right wheel {hedge}looks {size} {'larger' if more else 'smaller'} against the left since {since}: "
            "compare both tyres."
        )
    return f"The wheels {hedge}stand {size} {'further apart' if more else 'closer'} since {since}: check the axles."
