"""A course and a robot as the compiled walk wants them: one noise, or many hypotheses about the robot at once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple

import numpy as np
from numpy.typing import NDArray

from motion.chance.error import OWN, chain_of
from motion.chance.hypotheses import SPREADS
from motion.chance.kernels_walk import MOVE, TOOL, TURN, WAIT, Program
from motion.chance.landing import pushing_nose, told_on, until_landing
from motion.course.actions import Action, Tool, Turn
from motion.ground.clearance import poses_of
from motion.scene.records import Noise, Pose, Scene
from motion.units import wrap_deg

#: What float32 may get wrong at the edge of a window.
ROUNDING_MM, ROUNDING_RAD = 1e-3, 1e-5


def program_of(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    noise: Noise | None = None,
    *,
    told: Sequence[Action] | None = None,
) -> Program:
    """Pack a course and a robot: the scene's hypotheses if it has any, else one noise (the scene's own when None).

    Raises
    ------
    MotionError
        ``no_push``, ``not_finite``, ``bad_noise``, ``shape``.
    """
    told = told_on(scene, start, actions) if told is None else told
    hypotheses = scene.hypotheses if noise is None else None
    noise = scene.noise if noise is None else noise
    until = until_landing(actions)
    chain = chain_of(start, actions, noise, systematic=scene.systematic, told=told)
    poses = poses_of(start, actions)
    headings = np.radians([pose.heading_deg for pose in poses[:-1]])
    kinds, values, asks = _steps(actions, told)
    if hypotheses is None:
        spreads, scale_sd = np.array([[getattr(noise, name) for name in SPREADS]]), noise.distance_scale_sd
        systematic = np.array([astuple(scene.systematic)])
    else:
        spreads, scale_sd, systematic = hypotheses.spreads, 0.0, hypotheses.systematic
    turning, moving = kinds == TURN, kinds == MOVE
    fraction, position, heading_sd, turn_sd, growth_sd, drift_sd = (column[:, None] for column in spreads.T)
    scale, x, y, heading_off, turn_scale, bias, drift = (column[:, None] for column in systematic.T)
    away = np.radians(np.hstack([heading_sd, heading_off]))
    turn_spread = np.radians(np.sqrt(turn_sd**2 + growth_sd**2 * np.abs(np.degrees(asks)) / 90.0))
    turn_mean = chain.mean[OWN::2] + turn_scale * asks + np.radians(bias) * np.sign(asks)
    lengths = np.where(moving, values, 0.0)
    sd_one = np.where(turning, turn_spread, fraction * np.abs(lengths))
    sd_two = np.radians(drift_sd) * np.abs(lengths) / 1000.0
    mean_one, mean_two = np.where(turning, turn_mean, 0.0), np.radians(drift) * lengths / 1000.0
    along, lateral, heading = _axle_miss(scene, poses[len(until)])
    push, window, nose = math.radians(scene.target.precontact.heading_deg), scene.target.window, pushing_nose(scene)
    # all heading errors of a run together, at six of their standard deviations
    widest = np.abs(away[:, 1]) + np.abs(mean_one * turning).sum(axis=1) + np.abs(mean_two).sum(axis=1)
    widest += 6.0 * np.sqrt(away[:, 0] ** 2 + np.sum((sd_one * turning) ** 2 + sd_two**2, axis=1))
    same = np.ones_like(position)
    return Program(
        kinds,
        values.astype(np.float32),
        np.cos(headings).astype(np.float32),
        np.sin(headings).astype(np.float32),
        _packed(np.hstack([scale_sd * same, position, position, away[:, :1]])),
        _packed(np.hstack([scale, x, y, away[:, 1:]])),
        _packed(sd_one),
        _packed(mean_one),
        _packed(sd_two),
        _packed(mean_two),
        noise.yaw_reference == "absolute",
        len(until) - 1,
        np.array(
            [math.cos(push), math.sin(push), along, lateral, heading, nose.reach_mm, nose.left_mm], dtype=np.float32
        ),
        np.array(
            [
                window.lateral_mm + ROUNDING_MM,
                math.radians(window.heading_deg) + ROUNDING_RAD,
                window.short_mm + ROUNDING_MM,
                window.long_mm + ROUNDING_MM,
            ],
            dtype=np.float32,
        ),
        bool(widest.max() > 3.0),
    )


def _packed(values: NDArray[np.float64]) -> NDArray[np.float32]:
    return np.ascontiguousarray(values, dtype=np.float32)


def _steps(
    actions: Sequence[Action], told: Sequence[Action]
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Kind and value of each action (n,), and by how much it is told to turn (rad, 0 when it is no turn)."""
    kinds: list[int] = []
    values: list[float] = []
    asks: list[float] = []
    for action, asked in zip(actions, told, strict=True):
        asks.append(math.radians(asked.by_deg) if isinstance(asked, Turn) else 0.0)
        if isinstance(action, Turn):
            kinds.append(TURN)
            values.append(math.radians(action.by_deg))
        elif isinstance(action, Tool):
            kinds.append(WAIT if action.name == "wait" else TOOL)
            values.append(0.0)
        else:
            kinds.append(MOVE)
            values.append(action.distance_mm)
    return np.array(kinds, dtype=np.int64), np.array(values, dtype=float), np.array(asks, dtype=float)


def _axle_miss(scene: Scene, pose: Pose) -> tuple[float, float, float]:
    """How far the axle is from where it should be at the end of the push: along, to the left (mm), heading (rad)."""
    aim = scene.target.precontact
    h = math.radians(aim.heading_deg)
    dx, dy = pose.x_mm - aim.x_mm, pose.y_mm - aim.y_mm
    along = dx * math.cos(h) + dy * math.sin(h) - scene.target.push_leg_mm
    return along, dy * math.cos(h) - dx * math.sin(h), math.radians(wrap_deg(pose.heading_deg - aim.heading_deg))
