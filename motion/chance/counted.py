"""Random numbers that all candidates share, and chances with their ranges from how many runs work."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from motion.chance.intervals import wilson
from motion.chance.kernels_walk import COMMON
from motion.chance.spread_range import noise_range, scaled_noise
from motion.course.actions import Success
from motion.course.sentences import _
from motion.errors import MotionCode, MotionError
from motion.scene.records import Noise

if TYPE_CHECKING:
    from motion.chance.hypotheses import Hypotheses

Normals = NDArray[np.float32]

#: Runs of each hypothesis.
RUNS_EACH = 512


def normals(actions: int, runs: int, seed: int) -> Normals:
    """Standard normal numbers for courses of up to ``actions`` actions, shape (4 + 2 n, runs), float32, read-only.

    Courses of different length share their first rows; the last matrices asked for are remembered.

    >>> z = normals(3, 1000, seed=0)
    >>> z.shape[1], bool((z == normals(3, 1000, seed=0)).all()), round(abs(float(z.mean())), 1)
    (1000, True, 0.0)
    """
    if runs < 1:
        raise MotionError(MotionCode.NO_RUNS, _("Simulate at least one run."), "runs")
    return _normals(8 * math.ceil(max(actions, 1) / 8), int(runs), int(seed))


@lru_cache(maxsize=4)
def _normals(actions: int, runs: int, seed: int) -> Normals:
    rng = np.random.default_rng(seed)
    matrix = rng.standard_normal((COMMON + 2 * actions, runs), dtype=np.float32)
    matrix.flags.writeable = False
    return matrix


def counted(
    clean: Callable[[Normals, Noise | None], Sequence[int]], noise: Noise, z: Normals, *, spread: bool = True
) -> list[Success]:
    """Chances from how many runs of a noise matrix work, each with its range; ``spread`` as for :func:`success`.

    Half of all runs work, whatever the noise: Wilson's interval of the quarter that the other noises are tried with.

    >>> chances = counted(lambda z, noise: [z.shape[1] // 2], Noise(0, 0, 0, 0, 0, 0), normals(1, 4000, seed=0))
    >>> chances[0].probability, round(chances[0].low, 2), round(chances[0].high, 2)
    (0.5, 0.47, 0.53)
    """
    total = z.shape[1]
    counts = list(clean(z, None))
    ranges = [list(wilson(k, total)) for k in counts]
    if spread:
        part = np.ascontiguousarray(z[:, : max(1, total // 4)])
        for factor in noise_range(noise.runs):
            for ends, k in zip(ranges, clean(part, scaled_noise(noise, factor)), strict=True):
                other = wilson(k, part.shape[1])
                ends[:] = min(ends[0], other.low), max(ends[1], other.high)
    return [Success(k / total, low, high, total) for k, (low, high) in zip(counts, ranges, strict=True)]


def carried(hypotheses: Hypotheses, chances: NDArray[np.float64], each: int = RUNS_EACH) -> Success:
    """The weighted mean of the chances, and the range that holds 95 % of the weight.

    Each chance carries the luck of its own runs; the range is drawn in by what that adds to it, and then goes outwards to
    whole hundredths: finer than that neither the runs nor the words know it.

    >>> from motion.chance.hypotheses import Hypotheses
    >>> two = Hypotheses(np.zeros((2, 6)), np.zeros((2, 7)), np.array([0.25, 0.75]))
    >>> carried(two, np.array([1.0, 0.0])).probability
    0.25
    """
    weights = hypotheses.weights
    mean = float(weights @ chances)
    variance = float(weights @ (chances - mean) ** 2)
    luck = float(weights @ (chances * (1.0 - chances))) / each
    kept = math.sqrt(max(0.0, 1.0 - luck / variance)) if variance > 0.0 else 0.0
    drawn_in = mean + kept * (chances - mean)
    order = np.argsort(drawn_in)
    reached = np.cumsum(weights[order]) - 0.5 * weights[order]
    low, high = 100.0 * np.interp([0.025, 0.975], reached, drawn_in[order])
    outwards = math.floor(low + 1e-7) / 100.0, math.ceil(high - 1e-7) / 100.0
    return Success(mean, min(outwards[0], mean), max(outwards[1], mean), len(chances) * each)
