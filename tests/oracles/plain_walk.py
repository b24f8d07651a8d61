"""The motion model once more, written down from its definition in plain float64 numpy: what the kernels must do too."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from motion.course.actions import Action, Tool, Turn
from motion.scene.records import Pose, Scene


def walked(
    scene: Scene, start: Pose, actions: Sequence[Action], z: np.ndarray, told: Sequence[Action] | None = None
) -> np.ndarray:
    """Poses (runs, n + 1, 3) of runs with the normal numbers z; ``told`` is what the robot is told, the course if None."""
    noise, known, n = scene.noise, scene.systematic, z.shape[1]
    z = z.astype(float)
    scale = known.distance_scale + noise.distance_scale_sd * z[0]
    x = start.x_mm + known.start_x_mm + noise.start_position_sd_mm * z[1]
    y = start.y_mm + known.start_y_mm + noise.start_position_sd_mm * z[2]
    offset = np.radians(known.start_heading_deg + noise.start_heading_sd_deg * z[3])
    theta, yaw = math.radians(start.heading_deg) + offset, math.radians(start.heading_deg)
    poses = [np.array([x, y, theta])]
    for k, action in enumerate(actions if told is None else told):
        own, other = z[4 + 2 * k], z[5 + 2 * k]
        if isinstance(action, Turn):
            sd = math.sqrt(noise.turn_sd_deg**2 + noise.turn_growth_sd_deg**2 * abs(action.by_deg) / 90)
            error = known.turn_scale * action.by_deg + sd * own
            if action.by_deg:
                error = error + math.copysign(known.turn_bias_deg, action.by_deg)
            yaw = yaw + math.radians(action.by_deg)
            base = yaw + offset if noise.yaw_reference == "absolute" else theta + math.radians(action.by_deg)
            theta = base + np.radians(error)
        elif not isinstance(action, Tool):
            d = action.distance_mm
            length = d * (1 + scale) + noise.distance_sd_fraction * abs(d) * own
            drift = np.radians(known.drift_deg_per_m * d + noise.drift_sd_deg_per_m * abs(d) * other) / 1000
            x = x + length * np.cos(theta + drift / 2)
            y = y + length * np.sin(theta + drift / 2)
            theta = theta + drift
        poses.append(np.array([x * np.ones(n), y * np.ones(n), theta * np.ones(n)]))
    return np.array(poses).transpose(2, 0, 1)


def landed(scene: Scene, ends: np.ndarray, nose: tuple[float, float] = (200, 15)) -> np.ndarray:
    """Along, lateral (mm) and heading (rad) of the nose (3, runs), which stands so far ahead and to the left of the axle."""
    aim = scene.target.precontact
    h = math.radians(aim.heading_deg)
    dx, dy = ends[:, 0] - aim.x_mm, ends[:, 1] - aim.y_mm
    along = dx * math.cos(h) + dy * math.sin(h) - scene.target.push_leg_mm
    lateral = dy * math.cos(h) - dx * math.sin(h)
    turned = np.angle(np.exp(1j * (ends[:, 2] - h)))
    ahead, left = nose
    along = along + ahead * (np.cos(turned) - 1) - left * np.sin(turned)
    lateral = lateral + ahead * np.sin(turned) + left * (np.cos(turned) - 1)
    return np.array([along, lateral, turned])


def in_window(scene: Scene, ends: np.ndarray) -> np.ndarray:
    """Which runs (runs,) meet the target's window."""
    window = scene.target.window
    along, lateral, turned = landed(scene, ends)
    return (
        (np.abs(lateral) <= window.lateral_mm)
        & (np.abs(turned) <= math.radians(window.heading_deg))
        & (along >= -window.short_mm)
        & (along <= window.long_mm)
    )
