"""What a team of the demonstration reads when it measures its robot: the same robot that drives its runs."""

from __future__ import annotations

import math

import numpy as np

from motion.chance.simulate import Manner
from motion.scene.records import Noise

#: Each so often. Two sizes tell what comes with every start from what adds up on the way.
STRAIGHT_MM, SPIN_DEG, OFTEN, SET_DOWNS = (500.0, 1800.0), (90.0, 720.0), 8, 10
#: From the mark at the robot's front to the one at its back.
MARKS_APART_MM = 200.0

Readings = list[dict[str, float]]


def measured_runs(kind: str, manner: Manner, scatter: Noise, rng: np.random.Generator) -> Readings:
    """The readings of one measurement, to the millimetre and the degree."""
    return {"straight": _straight, "spin": _spins, "set_down": _set_downs}[kind](manner, scatter, rng)


def _straight(manner: Manner, scatter: Noise, rng: np.random.Generator) -> Readings:
    """Lengths and sideways misses of arcs that begin as askew as the robot is set down."""
    readings = []
    for told in np.repeat(STRAIGHT_MM, OFTEN):
        length = told * manner.distance_scale * (1 + rng.normal(0, scatter.distance_sd_fraction))
        askew = rng.normal(0, scatter.start_heading_sd_deg)
        bent = (manner.drift_deg_per_m + rng.normal(0, scatter.drift_sd_deg_per_m)) * length / 1000
        off = math.radians(askew + bent / 2)
        readings.append(
            {
                "commanded_mm": float(told),
                "measured_mm": float(round(length * math.cos(off))),
                "sideways_mm": float(round(length * math.sin(off))),
            }
        )
    return readings


def _spins(manner: Manner, scatter: Noise, rng: np.random.Generator) -> Readings:
    readings = []
    for told in np.repeat(SPIN_DEG, OFTEN):
        turned = told * manner.turn_scale + manner.turn_bias_deg + rng.normal(0, scatter.turn_sd(told))
        readings.append({"commanded_deg": float(told), "measured_deg": float(round(turned))})
    return readings


def _set_downs(manner: Manner, scatter: Noise, rng: np.random.Generator) -> Readings:
    """Where the middles of its front and its back stand: its position is that of the middle between them."""
    readings = []
    for _ in range(SET_DOWNS):
        ahead, left = rng.normal(0, scatter.start_position_sd_mm, 2)
        swing = math.sin(math.radians(rng.normal(0, scatter.start_heading_sd_deg))) * MARKS_APART_MM / 2
        readings.append(
            {
                "ahead_mm": float(round(ahead)),
                "front_left_mm": float(round(left + swing)),
                "back_left_mm": float(round(left - swing)),
                "marks_apart_mm": MARKS_APART_MM,
            }
        )
    return readings
