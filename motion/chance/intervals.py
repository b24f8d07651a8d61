"""Intervals and decisions for counts: Wilson, Beta posteriors, whether later is better.

All pure functions of plain numbers. Sources are named with each function; the checks are in
``tests/motion/chance/test_intervals.py``.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from scipy import special

from motion.course.sentences import _
from motion.errors import FitError, MotionCode


class Interval(NamedTuple):
    """Low and high end."""

    low: float
    high: float


def wilson(successes: int, trials: int, level: float = 0.95) -> Interval:
    """Wilson's score interval for a proportion, without continuity correction.

    Source: Newcombe, Statistics in Medicine 17:857-872, 1998, method 3. No trials give (0, 1).

    Raises
    ------
    FitError
        ``bad_count`` when the counts are not 0 <= successes <= trials, ``bad_level`` unless 0 < level < 1.

    Examples
    --------
    >>> [round(end, 4) for end in wilson(8, 10)]
    [0.4902, 0.9433]
    """
    _counted(successes, trials)
    if not 0.0 < level < 1.0:
        raise FitError(MotionCode.BAD_LEVEL, _("The level of an interval lies between 0 and 1; 0.95 is usual."))
    if trials == 0:
        return Interval(0.0, 1.0)
    z = float(special.ndtri(0.5 + level / 2.0))
    p = successes / trials
    scale = 1.0 + z * z / trials
    middle = (p + z * z / (2.0 * trials)) / scale
    half = z / scale * math.sqrt(p * (1.0 - p) / trials + z * z / (4.0 * trials * trials))
    low = 0.0 if successes == 0 else max(0.0, middle - half)
    high = 1.0 if successes == trials else min(1.0, middle + half)
    return Interval(low, high)


def _counted(successes: float, trials: float) -> None:
    if not (math.isfinite(successes) and math.isfinite(trials) and 0 <= successes <= trials):
        raise FitError(
            MotionCode.BAD_COUNT,
            _(
                "{successes} of {trials} is not a count; the first is from 0 to the second.",
                successes=successes,
                trials=trials,
            ),
        )


def beta_above(a: float, b: float, p0: float) -> float:
    """Probability that p >= p0 when p is Beta(a, b).

    For whole numbers this is the binomial sum ``sum_{j<a} C(a+b-1, j) p0^j (1-p0)^(a+b-1-j)`` (NIST DLMF 8.17.5).

    Examples
    --------
    After eight successes and no failure, from an even prior, p is Beta(9, 1): at least 0.8 with 1 - 0.8^9.

    >>> round(beta_above(9, 1, 0.8), 4)
    0.8658
    """
    _shapes(a, b)
    return float(special.betaincc(a, b, min(1.0, max(0.0, p0))))


def _shapes(*shapes: float) -> None:
    if not all(math.isfinite(shape) and shape > 0 for shape in shapes):
        raise FitError(MotionCode.BAD_SHAPE, _("Both numbers of a Beta distribution are positive and finite."))


def later_better(early: tuple[int, int], late: tuple[int, int]) -> float:
    """P(late > early) for two (successes, trials), uniform priors, exactly.

    The closed form of P(X > Y) for independent Betas with a whole first number, summed in logarithms.
    Both counts (0, 0) give 0.5.

    Examples
    --------
    One run that failed, then one that worked, speak for having got better by 5 to 1.

    >>> round(later_better((0, 1), (1, 1)), 4)
    0.8333
    """
    _counted(*early)
    _counted(*late)
    a1, b1 = early[0] + 1, early[1] - early[0] + 1
    a2, b2 = late[0] + 1, late[1] - late[0] + 1
    terms = [
        special.betaln(a1 + i, b1 + b2) - math.log(b2 + i) - special.betaln(1 + i, b2) - special.betaln(a1, b1)
        for i in range(a2)
    ]
    return float(math.fsum(math.exp(term) for term in terms))
