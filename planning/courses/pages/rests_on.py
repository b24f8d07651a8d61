"""What a predicted chance rests on, part by part: what was measured, in how many runs and when, and what is a kit's usual."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils import timezone

from classroom.robots.kinds import kind_of
from classroom.robots.numbers import RobotNumbers
from motion.course.actions import Check

#: What each spread is called, in the order in which they are told; what stands together is told once.
_CALLED = {
    "distance_sd_fraction": "how far it drives",
    "turn_sd_deg": "how it turns",
    "drift_sd_deg_per_m": "how it curves",
    "start_heading_sd_deg": "how it is set down",
}


def rests_on(check: Check, numbers: RobotNumbers, name: str, runs: int) -> str:
    """Whole sentences; empty when no chance is shown.

    Parameters
    ----------
    runs
        Logged runs of the robot that count as well.
    """
    if check.success is None:
        return ""
    said = [f"From {check.success.runs:,} pretend runs."]
    if not numbers.measured and numbers.set_down is None and not runs:
        said.append(f"{name} has not been measured yet: all of it is a kit's usual, so take this as a guess.")
        return " ".join(said)
    said += _parts(numbers)
    if runs:
        said.append(f"{runs} logged run{'s count' if runs > 1 else ' counts'} as well.")
    return " ".join(said)


def _parts(numbers: RobotNumbers) -> Iterator[str]:
    source = {part.spread: part.source for part in numbers.parts}
    usual = []
    for spread, called in _CALLED.items():
        calibration = numbers.in_force.get(source[spread])
        if calibration is None:
            usual.append(called)
            continue
        on = timezone.localdate(calibration.measured_at)
        counted = kind_of(calibration.kind).counted
        yield f"{called.capitalize()}: {len(calibration.runs)} {counted}, {on:%-d %B}."
    if usual:
        *others, last = usual
        listed = f"{', '.join(others)} and {last}" if others else last
        yield f"{listed.capitalize()}: not measured yet, so a kit's usual."
