"""Has the robot changed since its last calibration? In words, with how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from scipy import special

from motion.errors import FitError, MotionCode
from motion.units import figure


@dataclass(frozen=True)
class ComparedNumber:
    """A number of a fit that is compared with the same number of an earlier one, and how its change is said.

    Attributes
    ----------
    what
        What it is a number of, in one word.
    value, value_u
        And its standard uncertainty.
    free
        Degrees of freedom of the uncertainty: runs less what was fitted to them.
    same, changed
        Sentences. ``{since}`` stands for when the earlier one was; in ``changed`` also ``{hedge}`` for a "perhaps" and
        ``{size}`` for how much.
    more, less
        A change's size is said in per cent of what the number was, followed by one of these words ...
    unit
        ... unless the number has a unit: then with its sign and in that.
    """

    what: str
    value: float
    value_u: float
    free: int
    same: str
    changed: str
    more: str = "larger"
    less: str = "smaller"
    unit: str = ""


class ComparableFit(Protocol):
    """What a calibration found, able to stand beside an earlier one of its kind."""

    def compared(self) -> tuple[ComparedNumber, ...]: ...


@dataclass(frozen=True)
class Change:
    """One number of a robot, then and now.

    ``probability`` is the two-sided chance of a difference at least this large when nothing changed (Welch's t);
    ``sure`` is "clear" under 0.01, "likely" under 0.05, else "none".
    """

    what: str
    before: float
    now: float
    difference: float
    difference_u: float
    probability: float
    sure: str
    sentence: str


def compare(now: ComparableFit, before: ComparableFit, since: str = "last time") -> tuple[Change, ...]:
    """Compare two fits of the same kind.

    Parameters
    ----------
    now, before
        Two straight, spin, square or resting-drift fits, or of any other class that says what of it is compared.
    since
        Words for when ``before`` was, such as ``"October"``.

    Raises
    ------
    FitError
        ``other_kind``.

    Examples
    --------
    >>> from motion.calibration.straight import fit_straight
    >>> october = fit_straight([1000] * 5, [995, 1005, 1000, 1000, 1000])
    >>> now = fit_straight([1000] * 5, [975, 985, 980, 980, 980])
    >>> compare(now, october, "October")[0].sentence
    'The wheels look 2.0 ± 0.2 % smaller since October: check the tyres, then the battery.'
    >>> compare(october, october, "October")[0].sure
    'none'
    """
    if type(now) is not type(before):
        raise FitError(MotionCode.OTHER_KIND, "These are two kinds of calibration; compare a kind with itself.")
    return tuple(_change(*pair, since) for pair in zip(now.compared(), before.compared(), strict=True))


def _change(now: ComparedNumber, before: ComparedNumber, since: str) -> Change:
    difference, u = now.value - before.value, math.hypot(now.value_u, before.value_u)
    if u == 0.0:
        probability = 1.0 if difference == 0.0 else 0.0
    else:
        # Welch-Satterthwaite, GUM (JCGM 100:2008) G.4.1
        free = u**4 / (now.value_u**4 / max(now.free, 1) + before.value_u**4 / max(before.free, 1))
        probability = 2.0 * float(special.stdtr(free, -abs(difference) / u))
    sure = "clear" if probability < 0.01 else "likely" if probability < 0.05 else "none"
    return Change(
        now.what,
        before.value,
        now.value,
        difference,
        u,
        probability,
        sure,
        _sentence(now, before.value, difference, u, sure, since),
    )


def _sentence(now: ComparedNumber, before: float, difference: float, u: float, sure: str, since: str) -> str:
    if sure == "none":
        return f"{now.same.format(since=since)}, within the spread of the runs."
    hedge = "" if sure == "clear" else "perhaps "
    return now.changed.format(hedge=hedge, size=_size(now, before, difference, u), since=since)


def _size(now: ComparedNumber, before: float, difference: float, u: float) -> str:
    if now.unit:
        return f"{figure(difference, 1, sign=True)} ± {figure(u, 1)} {now.unit}"
    percent, percent_u = 100.0 * difference / before, 100.0 * u / before
    return f"{figure(abs(percent), 1)} ± {figure(percent_u, 1)} % {now.more if percent > 0 else now.less}"
