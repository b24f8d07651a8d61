"""What is known of a robot from its calibrations and its runs together; as a job's input keeps it, and back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from motion.chance.hypotheses import Hypotheses
from motion.scene.records import Pace, Scene

#: What stands for all that the robot might be while courses are compared.
PLANNER_HYPOTHESES = 16


@dataclass(frozen=True)
class KnownRobot:
    """Everything that is known of a robot: ``runs`` logged runs count in ``hypotheses`` and ``pace``."""

    hypotheses: Hypotheses
    pace: Pace
    runs: int


def known_to_json(known: KnownRobot, time_limit_s: float | None) -> dict[str, Any]:
    few = known.hypotheses.thinned(PLANNER_HYPOTHESES)
    return {
        "spreads": _rounded(few.spreads),
        "systematic": _rounded(few.systematic),
        "pace": [round(known.pace.factor, 4), round(known.pace.spread, 4)],
        "time_limit_s": time_limit_s,
    }


def scene_with_known(scene: Scene, record: dict[str, Any] | None) -> Scene:
    """The scene with what was known; as it is for a record made before there was any."""
    if not record:
        return scene
    spreads, systematic = np.array(record["spreads"], dtype=float), np.array(record["systematic"], dtype=float)
    hypotheses = Hypotheses(spreads, systematic, np.full(len(spreads), 1.0 / len(spreads)))
    return replace(scene, hypotheses=hypotheses, pace=Pace(*record["pace"]), time_limit_s=record["time_limit_s"])


def _rounded(values: np.ndarray) -> list[list[float]]:
    """To five decimals: a thousandth of a millimetre or degree is more than anybody measures."""
    return [[round(float(value), 5) for value in row] for row in values]
