"""A robot that is measured, played step by step: what a tape and a ruler would read. Shares no code with the fits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Played:
    """A robot's true ways. Spreads are between runs; headings and curves to the left are positive."""

    scale: float = 0.98
    fraction_sd: float = 0.004
    set_down_deg: float = 0.0
    set_down_sd_deg: float = 1.0
    drift_deg_per_m: float = 0.0
    drift_sd_deg_per_m: float = 1.0
    turn_scale: float = 1.0
    turn_bias_deg: float = 0.0
    turn_sd_deg: float = 1.0
    turn_growth_sd_deg: float = 0.7


def straight_runs(robot: Played, told_mm: list[float], rng: np.random.Generator) -> list[tuple[float, float]]:
    """(measured, sideways) of each run, in whole millimetres: walked along its arc in a hundred short steps."""
    readings = []
    for told in told_mm:
        length = told * robot.scale + told * robot.fraction_sd * rng.standard_normal()
        heading = math.radians(robot.set_down_deg + robot.set_down_sd_deg * rng.standard_normal())
        per_mm = math.radians(robot.drift_deg_per_m + robot.drift_sd_deg_per_m * rng.standard_normal()) / 1000.0
        left = 0.0
        for step in range(100):
            left += length / 100 * math.sin(heading + per_mm * length * (step + 0.5) / 100)
        readings.append((float(round(length)), float(round(left))))
    return readings


def turns(robot: Played, told_deg: list[float], rng: np.random.Generator) -> list[float]:
    """How far each turn came, in whole degrees."""
    seen = []
    for told in told_deg:
        size, way = abs(told), math.copysign(1.0, told)
        spread = math.sqrt(robot.turn_sd_deg**2 + robot.turn_growth_sd_deg**2 * size / 90.0)
        turned = robot.turn_scale * size + robot.turn_bias_deg + spread * rng.standard_normal()
        seen.append(way * float(round(turned)))
    return seen


def set_downs(
    along_sd_mm: float,
    sideways_sd_mm: float,
    heading_sd_deg: float,
    apart_mm: float,
    runs: int,
    rng: np.random.Generator,
    *,
    at: tuple[float, float, float] = (0.0, 0.0, 0.0),
) -> list[tuple[float, float, float]]:
    """(ahead, front left, back left) in whole millimetres: the robot's two marks, turned about its middle."""
    readings = []
    for _ in range(runs):
        along = at[0] + along_sd_mm * rng.standard_normal()
        middle = at[1] + sideways_sd_mm * rng.standard_normal()
        heading = math.radians(at[2] + heading_sd_deg * rng.standard_normal())
        reach = apart_mm / 2 * math.sin(heading)
        readings.append((float(round(along)), float(round(middle + reach)), float(round(middle - reach))))
    return readings
