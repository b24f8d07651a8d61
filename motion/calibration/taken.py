"""Readings as they were written down while measuring, in the form in which hypotheses are weighed by them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from motion.chance.error import DRIFT, SCALE, TURN_BIAS, TURN_SCALE
from motion.chance.hypotheses import ASKEW, SPREADS, Reading
from motion.scene.records import Systematic

#: Variance of a reading in steps of one (GUM 4.3.7): a tape's millimetre, a degree seen by eye.
STEP = 1.0 / 12.0
_RAD = math.radians(1.0)


@dataclass(frozen=True)
class Taken:
    """Readings of the newest calibration of each kind; empty where nothing was measured.

    ``straight``: (told mm, came mm, left mm or None) a run. ``spin``: (told deg, came deg). ``set_down``: (ahead mm, front
    left mm, back left mm) against marks that stand ``marks_apart_mm`` apart.
    """

    straight: tuple[tuple[float, float, float | None], ...] = ()
    spin: tuple[tuple[float, float], ...] = ()
    set_down: tuple[tuple[float, float, float], ...] = ()
    marks_apart_mm: float = 0.0


def readings_of(taken: Taken, mean: Systematic, distance_scale: float, turn_scale: float) -> tuple[Reading, ...]:
    """What every reading is off from what ``mean`` lets expect, once distances and turns are typed by these scales.

    Examples
    --------
    >>> one, = readings_of(Taken(straight=((500.0, 492.0, None),)), Systematic(), 0.98, 1.0)
    >>> round(one.off, 6), one.slope[0], one.shares[0]
    (2.0, 490.0, 240100.0)
    """
    found: list[Reading] = []
    for told, came, left in taken.straight:
        goes = distance_scale * told
        found.append(_reading(came - goes, {SCALE: goes}, {"distance_sd_fraction": goes}))
        if left is not None:
            askew, bent = _RAD * told, _RAD / 1000.0 * told**2 / 2.0
            off = left - bent * mean.drift_deg_per_m
            spreads = {"start_heading_sd_deg": askew, "drift_sd_deg_per_m": bent}
            found.append(_reading(off, {DRIFT: bent, ASKEW: askew}, spreads))
    for told, came in taken.spin:
        way = math.copysign(1.0, told)
        turns = turn_scale * told
        off = came - turns * (1.0 + mean.turn_scale) - way * mean.turn_bias_deg
        spreads = {"turn_sd_deg": 1.0, "turn_growth_sd_deg": math.sqrt(abs(told) / 90.0)}
        found.append(_reading(off, {TURN_SCALE: turns, TURN_BIAS: way}, spreads))
    return (*found, *_set_down(taken))


def _set_down(taken: Taken) -> list[Reading]:
    """Contrasts between set-downs: where they all stand is another matter (a mark that is read otherwise)."""
    if len(taken.set_down) < 2:
        return []
    ahead, front, back = np.array(taken.set_down, dtype=float).T
    apart = taken.marks_apart_mm
    found = []
    for values, spread, known in (
        (ahead, "start_position_sd_mm", STEP),
        ((front + back) / 2.0, "start_position_sd_mm", STEP / 2.0),
        (np.degrees(np.arcsin((front - back) / apart)), "start_heading_sd_deg", 2.0 * STEP / (_RAD * apart) ** 2),
    ):
        for k in range(1, len(values)):  # Helmert: each against the mean of those before it
            off = (values[k] - values[:k].mean()) * math.sqrt(k / (k + 1.0))
            found.append(_reading(float(off), {}, {spread: 1.0}, known))
    return found


def _reading(off: float, slopes: dict[int, float], spreads: dict[str, float], known: float = STEP) -> Reading:
    slope = tuple(slopes.get(k, 0.0) for k in range(ASKEW + 1))
    return Reading(off, slope, tuple(spreads.get(name, 0.0) ** 2 for name in SPREADS), known)
