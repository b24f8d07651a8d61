"""Which measurement would narrow a chance's range most, and to how much: from the hypotheses, without measuring.

The chance is taken as a quadratic function of what the hypotheses differ in (a weighted regression); a measurement takes
from each of its numbers the share of the variance that as many runs would (conjugate updates as in ``hypotheses``).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from motion.chance.hypotheses import SPREADS, Hypotheses, Knowledge
from motion.chance.least_squares import Array

#: Runs of one more measurement of each kind, and what it tells: columns of spreads, columns of systematic numbers.
RUNS = 10
TELLS: Mapping[str, tuple[tuple[int, ...], tuple[int, ...]]] = {
    "straight": ((0, 5), (0, 6)),
    "spin": ((3, 4), (4, 5)),
    "set_down": ((1, 2), (1, 2, 3)),
}


@dataclass(frozen=True)
class NextMeasurement:
    """``kind`` of calibration; ``width_now`` of the chance's 95 % range, ``width_then`` as expected after it."""

    kind: str
    width_now: float
    width_then: float


def next_measurements(
    knowledge: Knowledge, hypotheses: Hypotheses, chances: Array, width_now: float
) -> list[NextMeasurement]:
    """Each kind of measurement with the width that it should leave, the one that narrows most first.

    Parameters
    ----------
    chances
        Of each hypothesis (H,), as ``montecarlo.clean_by_hypothesis`` gives them.
    width_now
        Of the range that is shown.

    Examples
    --------
    A chance that hangs on how the robot is set down:

    >>> from motion.calibration.knowledge import Fits, knowledge_from_fits
    >>> from motion.chance.hypotheses import drawn
    >>> knowledge, _ = knowledge_from_fits(Fits())
    >>> hypotheses = drawn(knowledge)
    >>> next_measurements(knowledge, hypotheses, 0.5 - 0.1 * np.log(hypotheses.spreads[:, 2]), 0.4)[0].kind
    'set_down'
    """
    weights = hypotheses.weights
    numbers = np.hstack([np.log(hypotheses.spreads), hypotheses.systematic])
    mean = weights @ numbers
    sd = np.sqrt(weights @ (numbers - mean) ** 2)
    scaled = (numbers - mean) / np.where(sd > 1e-12, sd, 1.0)
    columns = np.hstack([scaled, scaled**2 - 1.0])
    root = np.sqrt(weights)[:, None]
    rest = chances - weights @ chances
    ridge = 1e-2 * np.eye(columns.shape[1])
    weighted = columns * root
    slopes = np.linalg.solve(weighted.T @ weighted + ridge, weighted.T @ (rest * root[:, 0]))
    left = _left_after(knowledge, sd)
    total = float(weights @ rest**2)
    found = []
    for kind, shares in left.items():
        both = np.concatenate([shares, shares])
        explained = float(weights @ (columns @ (slopes * np.sqrt(1.0 - both))) ** 2)
        part = min(max(explained / total, 0.0), 0.98) if total > 0.0 else 0.0
        found.append(NextMeasurement(kind, width_now, width_now * math.sqrt(1.0 - part)))
    return sorted(found, key=lambda each: each.width_then)


def _left_after(knowledge: Knowledge, sd: Array) -> dict[str, Array]:
    """By kind: the share of the variance of each of the 13 numbers that is left after it."""
    fraction, position, heading, turn, growth, drift = (spread.value for spread in knowledge.spreads)
    # what the mean of so many runs is unsure by, in the order of ``error.PARAMETERS``; straight runs of about 0.8 m
    sideways = math.hypot(drift, 2.0 * heading / 0.8)
    unsure = np.array([fraction, position, position, heading, 0.01, math.hypot(turn, growth), sideways])
    unsure = np.maximum(unsure / math.sqrt(RUNS), 1e-9)
    left = {}
    for kind, (spreads, systematic) in TELLS.items():
        shares = np.ones(len(SPREADS) + 7)
        for k in spreads:
            shares[k] = knowledge.spreads[k].freedom / (knowledge.spreads[k].freedom + RUNS - 1)
        for k in systematic:
            own = sd[len(SPREADS) + k]
            shares[len(SPREADS) + k] = unsure[k] ** 2 / (unsure[k] ** 2 + own**2)
        left[kind] = shares
    return left
