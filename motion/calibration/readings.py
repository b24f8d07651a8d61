"""What every calibration asks of its readings before it fits: enough of them, finite, and not absurd."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from motion.chance.least_squares import Array
from motion.course.sentences import _, numeral
from motion.errors import FitError, MotionCode

#: Measured over commanded outside of this looks like a wrong unit or a wrong column. Common practice, no source.
SANE_RATIO = (0.5, 2.0)
MOST_RUNS = 5000


def readings(values: ArrayLike, name: str, least: int = 2) -> Array:
    """``values`` as a finite float array of shape (n,), n >= ``least``.

    Raises
    ------
    FitError
        ``shape``, ``too_few``, ``too_many``, ``not_finite``; the place names the run.

    Examples
    --------
    >>> readings([991, 993], "measured").tolist()
    [991.0, 993.0]
    >>> readings([991, float("nan")], "measured")
    Traceback (most recent call last):
    motion.errors.FitError: measured[1]: Run 2 has no number; fill it in or leave the run out.
    """
    try:
        array = np.asarray(values, dtype=float)
    except (TypeError, ValueError):
        raise FitError(
            MotionCode.NOT_FINITE, _("A reading is not a number; correct it or leave its run out."), name
        ) from None
    if array.ndim != 1:
        raise FitError(MotionCode.SHAPE, _("Give one number a run."), name)
    if len(array) < least:
        raise FitError(
            MotionCode.TOO_FEW,
            _(
                "{count} of at least {least} runs: one run shows no spread; measure {least} or more.",
                count=len(array),
                least=least,
            ),
            name,
        )
    if len(array) > MOST_RUNS:
        raise FitError(
            MotionCode.TOO_MANY,
            _("More than {most} runs; keep those of this robot and surface.", most=MOST_RUNS),
            name,
        )
    bad = np.flatnonzero(~np.isfinite(array))
    if len(bad):
        raise FitError(
            MotionCode.NOT_FINITE,
            _("Run {run} has no number; fill it in or leave the run out.", run=bad[0] + 1),
            f"{name}[{bad[0]}]",
        )
    return array


def same_length(first: Array, other: Array, name: str) -> None:
    """Both arrays have one number a run.

    Examples
    --------
    >>> same_length(np.array([1000.0, 1000.0]), np.array([991.0]), "measured")
    Traceback (most recent call last):
    motion.errors.FitError: measured: 2 runs but 1 readings of measured; give one a run.
    """
    if first.shape != other.shape:
        raise FitError(
            MotionCode.SHAPE,
            _(
                "{runs} runs but {readings} readings of {name}; give one a run.",
                runs=len(first),
                readings=len(other),
                name=name,
            ),
            name,
        )


def sane_ratio(measured: Array, commanded: Array, unit: str) -> None:
    """Commanded is never zero and measured is of the same sign and size.

    Raises
    ------
    FitError
        ``zero`` or ``absurd``, with the run and the usual cause.

    Examples
    --------
    >>> sane_ratio(np.array([99.1]), np.array([1000.0]), "mm")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    motion.errors.FitError: measured[0]: Run 1 was told 1000 mm and measured 99.1 mm; check its unit, its sign and whether the columns are swapped.
    """
    zero = np.flatnonzero(commanded == 0)
    if len(zero):
        raise FitError(
            MotionCode.ZERO,
            _("Run {run} was told to move 0 {unit}; leave it out.", run=zero[0] + 1, unit=unit),
            f"commanded[{zero[0]}]",
        )
    if (measured == 0).all():
        raise FitError(MotionCode.ZERO, _("Every reading is 0; measure how far the robot really moved."), "measured")
    ratio = measured / commanded
    low, high = SANE_RATIO
    bad = np.flatnonzero(~((ratio >= low) & (ratio <= high)))
    if len(bad):
        i = bad[0]
        raise FitError(
            MotionCode.ABSURD,
            _(
                "Run {run} was told {commanded} {unit} and measured {measured} {unit}; check its unit, its sign and whether the columns are swapped.",
                run=i + 1,
                commanded=numeral(f"{commanded[i]:g}"),
                unit=unit,
                measured=numeral(f"{measured[i]:g}"),
            ),
            f"measured[{i}]",
        )
    if len(measured) > 2 and np.ptp(measured) == 0 and np.ptp(np.abs(commanded)) > 0:
        raise FitError(
            MotionCode.ALL_EQUAL,
            _(
                "All runs measured {measured} {unit} although they were told different numbers; check that every run was measured and that the robot got its numbers.",
                measured=numeral(f"{measured[0]:g}"),
                unit=unit,
            ),
            "measured",
        )
