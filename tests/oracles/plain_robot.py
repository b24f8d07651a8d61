"""A robot with true ways of its own, driven many times at once: a plain walk that shares no code with any prediction.

Turns and legs are walked in order on arrays of runs; a curve is a true arc. Headings counter-clockwise, in degrees
outside and radians inside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from motion.course.actions import Action, Tool, Turn
from motion.scene.records import Pose

Array = np.ndarray


@dataclass(frozen=True)
class Truth:
    """What one robot really does. Numbers that hold for all runs may also be arrays of shape (runs,).

    A turn's variance is ``turn_sd_deg**2 + turn_growth_sd_deg**2 * |angle| / 90``. ``turn_bias_deg`` is added to every
    turn in its own direction. ``set_down_*`` is how a person places it, ``*_sd`` between runs.
    """

    scale: float | Array = 1.0
    scale_sd: float = 0.0
    leg_sd_fraction: float = 0.0
    turn_scale: float | Array = 1.0
    turn_bias_deg: float | Array = 0.0
    turn_sd_deg: float = 0.0
    turn_growth_sd_deg: float = 0.0
    drift_deg_per_m: float | Array = 0.0
    drift_sd_deg_per_m: float = 0.0
    set_down_x_mm: float | Array = 0.0
    set_down_y_mm: float | Array = 0.0
    set_down_deg: float | Array = 0.0
    set_down_sd_mm: float = 0.0
    set_down_sd_deg: float = 0.0
    yaw: Literal["absolute", "relative"] = "absolute"


def drive(start: Pose, told: Sequence[Action], robot: Truth, rng: np.random.Generator, runs: int) -> Array:
    """Poses (runs, n + 1, 3) of the axle's middle (x mm, y mm, heading deg) before the first and after each action.

    A turn of yaw ``"absolute"`` begins, for the robot, at the heading that it was last told, counted from how it was set
    down: it takes back what went wrong before. One of yaw ``"relative"`` begins where the robot stands.
    """

    def scatter(sd: float) -> Array:
        return sd * rng.standard_normal(runs)

    x = start.x_mm + robot.set_down_x_mm + scatter(robot.set_down_sd_mm)
    y = start.y_mm + robot.set_down_y_mm + scatter(robot.set_down_sd_mm)
    askew = robot.set_down_deg + scatter(robot.set_down_sd_deg)
    scale = robot.scale + scatter(robot.scale_sd)
    heading, believed = start.heading_deg + askew, start.heading_deg + askew
    poses = [np.stack([x, y, heading], axis=1)]
    for action in told:
        if isinstance(action, Turn):
            by = action.by_deg
            spread = (robot.turn_sd_deg**2 + robot.turn_growth_sd_deg**2 * abs(by) / 90.0) ** 0.5
            came = robot.turn_scale * by + np.sign(by) * robot.turn_bias_deg + scatter(spread)
            heading = (believed if robot.yaw == "absolute" else heading) + came
            believed = believed + by
        elif not isinstance(action, Tool):
            length = action.distance_mm * scale * (1.0 + scatter(robot.leg_sd_fraction))
            curve = (robot.drift_deg_per_m + scatter(robot.drift_sd_deg_per_m)) * length / 1000.0
            ahead, aside = _arc(length, np.radians(curve))
            c, s = np.cos(np.radians(heading)), np.sin(np.radians(heading))
            x, y, heading = x + ahead * c - aside * s, y + ahead * s + aside * c, heading + curve
        poses.append(np.stack([x, y, heading], axis=1))
    return np.stack(poses, axis=1)


def _arc(length: Array, turned: Array) -> tuple[Array, Array]:
    """Ahead and to the left of where an arc of this length begins, having turned by so much (rad) at its end."""
    bent = np.abs(turned) > 1e-9
    radius = length / np.where(bent, turned, 1.0)
    ahead = np.where(bent, radius * np.sin(turned), length)
    return ahead, np.where(bent, radius * (1.0 - np.cos(turned)), 0.0)


def nose_off(poses: Array, should: Pose, reach_mm: float, left_mm: float = 0.0) -> Array:
    """(runs, 3): where the nose is against where it should be: along mm, to the left mm, turned to the left deg.

    ``poses`` (runs, 3) and ``should`` are of the axle at the end of the push; the frame is that of ``should``.
    """

    def nose(x: Array, y: Array, heading: Array) -> Array:
        place: Array = (x + 1j * y) + (reach_mm + 1j * left_mm) * np.exp(1j * np.radians(heading))
        return place

    off = nose(*poses.T) - nose(*np.array([should.x_mm, should.y_mm, should.heading_deg]))
    off = off * np.exp(-1j * np.radians(should.heading_deg))
    turned = (poses[:, 2] - should.heading_deg + 180.0) % 360.0 - 180.0
    return np.stack([off.real, off.imag, turned], axis=1)
