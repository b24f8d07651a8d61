"""Has the robot changed since its last calibration? In words, with how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from scipy import special

from motion.course.sentences import Sentence, _, numeral
from motion.errors import FitError, MotionCode
from motion.units import figure


@dataclass(frozen=True)
class SaidOfChange:
    """The sentence of a change that is there, and of one that perhaps is."""

    surely: Sentence
    perhaps: Sentence


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
    same, more, less
        Sentences, of a change each surely and with a "perhaps". ``{since}`` stands for when the earlier one was; in a
        change's also ``{size}`` for how much: in per cent of what the number was, without its sign, unless ...
    in_its_unit
        ... it is said in the number's own unit, with its sign; then ``more`` is also for what has become less.
    """

    what: str
    value: float
    value_u: float
    free: int
    same: Sentence
    more: SaidOfChange
    less: SaidOfChange
    in_its_unit: bool = False


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


def compare(now: ComparableFit, before: ComparableFit, since: str = _("last time")) -> tuple[Change, ...]:
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
        raise FitError(MotionCode.OTHER_KIND, _("These are two kinds of calibration; compare a kind with itself."))
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
        return now.same.with_values(since=since)
    said = now.more if difference > 0 or now.in_its_unit else now.less
    size = _size(now, before, difference, u)
    return (said.surely if sure == "clear" else said.perhaps).with_values(size=numeral(size), since=since)


def _size(now: ComparedNumber, before: float, difference: float, u: float) -> str:
    if now.in_its_unit:
        return f"{figure(difference, 1, sign=True)} ± {figure(u, 1)}"
    return f"{figure(abs(100.0 * difference / before), 1)} ± {figure(100.0 * u / before, 1)} %"
