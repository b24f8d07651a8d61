"""What a predicted chance rests on, part by part: what was measured, in how many runs and when, and what is a kit's usual."""

from __future__ import annotations

from collections.abc import Iterator

from classroom.robots.kinds import kind_of
from classroom.robots.numbers import RobotNumbers
from motion.calibration.knowledge import KnownPart
from motion.course.actions import Check

#: What each spread is called, in the order in which they are told; what stands together is told once.
_CALLED = {
    "distance_sd_fraction": "How far it drives",
    "turn_sd_deg": "How it turns",
    "drift_sd_deg_per_m": "How it curves",
    "start_heading_sd_deg": "How it is set down",
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
        said.append(f"{runs} logged run{'s' if runs > 1 else ''} since then count{'s' if runs == 1 else ''} as well.")
    return " ".join(said)


def _parts(numbers: RobotNumbers) -> Iterator[str]:
    source: dict[str, KnownPart] = {part.spread: part for part in numbers.parts}
    usual = []
    for spread, called in _CALLED.items():
        calibration = numbers.in_force.get(source[spread].source)
        if calibration is None:
            usual.append(called)
            continue
        kind, count = kind_of(calibration.kind), len(calibration.runs)
        yield f"{called}: {count} {kind.called}, {calibration.measured_at:%-d %B}."
    if usual:
        first, *others = usual
        words = [first, *(other[0].lower() + other[1:] for other in others)]
        listed = words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
        yield f"{listed}: not measured, a kit's usual."
