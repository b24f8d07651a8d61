"""What a robot's calibrations say about it today: how its numbers scale, how it scatters, and in words on what evidence."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import Any

from classroom.models import Calibration, Robot
from classroom.robots.kinds import KINDS
from classroom.robots.kinds.rest_drift import REST_DRIFT
from classroom.robots.kinds.spin import SPIN, USUAL_TURN_DEG
from classroom.robots.kinds.square import SQUARE
from classroom.robots.kinds.straight import STRAIGHT
from motion.calibration import NOMINAL_NOISE, SpinFit, SquareFit, StraightFit, noise_from_fits
from motion.scene.records import Noise
from motion.units import figure

#: What an unmeasured robot's scales may be off by. Common practice, no source.
NOMINAL_SCALE_U = 0.01


@dataclass(frozen=True)
class RobotNumbers:
    """True distance = ``distance_scale`` x typed distance; true turn = ``turn_scale`` x typed turn.

    The four calibrations are those in force, None where nothing was measured; ``calibration`` is the newest of them.
    ``words`` are whole sentences for a page.
    """

    distance_scale: float
    distance_scale_u: float
    turn_scale: float
    turn_scale_u: float
    noise: Noise
    straight: Calibration | None
    spin: Calibration | None
    square: Calibration | None
    rest: Calibration | None
    calibration: Calibration | None
    words: tuple[str, ...]

    @property
    def measured(self) -> bool:
        """Whether distances or turns rest on a measurement at all."""
        return self.noise.runs is not None


def fit_of(calibration: Calibration) -> Any:
    """The fit as motion made it, read back from its record."""
    return KINDS[calibration.kind].read_back(calibration.fit)


def numbers_for(robot: Robot, *, at: dt.datetime | None = None) -> RobotNumbers:
    """The robot's numbers from its calibrations in force now or at a moment, nominal where nothing was measured. One query."""
    newest = {c.kind: c for c in Calibration.objects.filter(robot=robot).in_force(at).order_by("measured_at", "pk")}
    straight, spin = newest.get(STRAIGHT.key), newest.get(SPIN.key)
    square, rest = newest.get(SQUARE.key), newest.get(REST_DRIFT.key)
    straight_fit: StraightFit | None = fit_of(straight) if straight else None
    spin_fit: SpinFit | None = fit_of(spin) if spin else None
    square_fit: SquareFit | None = fit_of(square) if square else None
    distance, distance_u = (straight_fit.scale, straight_fit.scale_u) if straight_fit else (1.0, NOMINAL_SCALE_U)
    turn, turn_u = _turn_scale(spin_fit, square_fit)
    nominal = replace(NOMINAL_NOISE, yaw_reference=robot.yaw_reference)
    return RobotNumbers(
        distance_scale=distance,
        distance_scale_u=distance_u,
        turn_scale=turn,
        turn_scale_u=turn_u,
        noise=noise_from_fits(straight_fit, spin_fit, square_fit, nominal=nominal),
        straight=straight,
        spin=spin,
        square=square,
        rest=rest,
        calibration=max(newest.values(), key=lambda c: (c.measured_at, c.pk), default=None),
        words=tuple(_words(robot, newest, (distance, distance_u), (turn, turn_u))),
    )


def _turn_scale(spin: SpinFit | None, square: SquareFit | None) -> tuple[float, float]:
    """Scale and uncertainty: from spins, else from the square's corners, else nominal."""
    if spin is not None:  # a fixed overshoot is folded in at the commonest turn of a course
        bias, bias_u = spin.turn_bias_deg or 0.0, spin.turn_bias_u_deg or 0.0
        return spin.turn_scale + bias / USUAL_TURN_DEG, math.hypot(spin.turn_scale_u, bias_u / USUAL_TURN_DEG)
    if square is not None:
        return 1.0 / square.track_ratio, square.track_ratio_u / square.track_ratio**2
    return 1.0, NOMINAL_SCALE_U


def _words(
    robot: Robot, newest: dict[str, Calibration], distance: tuple[float, float], turn: tuple[float, float]
) -> list[str]:
    straight = newest.get(STRAIGHT.key)
    turning = newest.get(SPIN.key) or newest.get(SQUARE.key)
    if straight is None and turning is None:
        return [
            f"{robot.name} has not been measured yet. These are a kit's usual numbers: measure straight runs and spins first."
        ]
    said = []
    if straight is not None:
        said.append(
            f"For every 100 it is told it goes {figure(distance[0] * 100, 1)} "
            f"(give or take {figure(distance[1] * 100, 1)}), from {len(straight.runs)} straight runs."
        )
    else:
        said.append("Distances are not measured yet: a kit's usual numbers stand in.")
    if turning is not None:
        said.append(
            f"Told 90° it turns {figure(turn[0] * 90, 1)}° (give or take {figure(turn[1] * 90, 1)}), "
            f"from {len(turning.runs)} {'spins' if turning.kind == SPIN.key else 'squares'}."
        )
    else:
        said.append("Turns are not measured yet: a kit's usual numbers stand in.")
    if any(c.measured_at < robot.changed_at for c in newest.values()):
        said.append("It was rebuilt since it was last measured: measure it again.")
    return said
