"""Hypotheses about a robot from everything that is known of it: calibrations, measured misses, and runs that only worked or not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from motion.chance.hypotheses import COUNT, Hypotheses, Knowledge, drawn
from motion.chance.logged import Logged
from motion.chance.many import whole_by_hypothesis

#: Simulated runs of each hypothesis to weigh one more plan by; few, since only large differences should count.
RUNS_EACH = 128


def learned(knowledge: Knowledge, runs: Sequence[Logged], *, count: int = COUNT, seed: int = 0) -> Hypotheses:
    """As :func:`motion.chance.hypotheses.drawn`, with the runs of which no miss was measured as well.

    Each such run speaks for a hypothesis as often as its simulated runs work.

    Examples
    --------
    >>> from motion.calibration.knowledge import Fits, knowledge_from_fits
    >>> knowledge, _ = knowledge_from_fits(Fits())
    >>> len(learned(knowledge, [], count=64).weights)
    64
    """
    hypotheses = drawn(knowledge, runs, count=count, seed=seed)
    for logged in runs:
        if logged.unmeasured:
            scene = replace(logged.scene, systematic=knowledge.mean, hypotheses=hypotheses)
            chances = whole_by_hypothesis(scene, logged.start, logged.actions, each=RUNS_EACH, told=logged.told)
            chances = np.clip(chances, 0.5 / RUNS_EACH, 1.0 - 0.5 / RUNS_EACH)
            failed = logged.unmeasured - logged.worked
            hypotheses = hypotheses.weighted(logged.worked * np.log(chances) + failed * np.log1p(-chances))
    return hypotheses
