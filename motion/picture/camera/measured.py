"""The one way to a picture in which places can be measured, or to the reason why this one is none.

A picture that does not fit is fitted again with one thing set free after the other: what makes it fit is what is wrong.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy import special

from motion.course.sentences import _, capital, numeral
from motion.errors import FitError, MotionCode
from motion.picture.camera.laid import LaidMark, SeenMark
from motion.picture.camera.table_fit import TablePicture, fit_table
from motion.units import figure

FEWEST_MARKS = 3
#: A true picture is taken for one that does not fit once in a thousand.
FALSE_ALARM = 1e-3
#: One observation alone this many standard deviations off does not fit: of fifty, three in ten thousand pictures.
FARTHEST_OFF = 4.5
#: The camera looks down at the table's middle at least this steeply. Common practice, no source.
FLATTEST_LOOK_DEG = 15.0
#: Nothing is measured where half the 95 % range is wider, mm. Common practice: a tape does better.
LEAST_SURE_MM = 25.0
#: A mark whose corners are less sure is out of focus, shaken or too small in the picture, as a share of its side.
LEAST_CLEAR = 0.02
#: A print this much off was scaled to fit its page, whatever else may be the matter.
_FREE = 0.2


def measure_table(
    laid: Sequence[LaidMark], seen: Sequence[SeenMark], size_px: tuple[int, int], width_mm: float, depth_mm: float
) -> TablePicture:
    """A picture's table, fitted and checked.

    Parameters
    ----------
    laid, seen, size_px
        As :func:`fit_table`.
    width_mm, depth_mm
        The table.

    Raises
    ------
    FitError
        ``mark_twice``, ``unclear`` (a mark blurred or too small), ``too_few``, ``mirrored``, ``oblique``,
        ``print_scale``, ``mark_moved``, ``mark_bent``, ``no_convergence`` (nothing fits), ``folded`` (the lens bends
        a part of the table out of reach), ``unsure`` (fits and says little): each with what to do.

    Examples
    --------
    >>> measure_table([LaidMark(1, 95.0, 95.0, 150.0)], [], (4000, 3000), 2400.0, 1200.0)
    Traceback (most recent call last):
        ...
    motion.errors.FitError: 0 of the table's 1 marks are found and 3 are needed: get all of them into the picture, flat, with no glare on them and nothing in front.
    """
    _check_marks(laid, seen)
    picture = fit_table(laid, seen, size_px)
    look = picture.camera.looks_down_deg((width_mm / 2.0, depth_mm / 2.0))
    if look < FLATTEST_LOOK_DEG:
        raise FitError(
            MotionCode.OBLIQUE,
            _(
                "The picture is taken too flat: it looks down by {look}°. Hold the camera higher, or step nearer.",
                look=numeral(figure(look)),
            ),
        )
    if not _fits(picture):
        raise _cause(laid, seen, picture)
    sure_to = picture.sure_to_mm(width_mm, depth_mm)
    if not sure_to <= LEAST_SURE_MM:
        raise FitError(
            MotionCode.UNSURE,
            _(
                "From here a place is only sure to {sure_to} mm; step nearer, with all marks in the picture.",
                sure_to=numeral(figure(sure_to)),
            ),
        )
    return picture


def _check_marks(laid: Sequence[LaidMark], seen: Sequence[SeenMark]) -> None:
    names = {mark.number: mark.words for mark in laid}
    counted = Counter(sight.number for sight in seen if sight.number in names)
    for number, times in counted.items():
        if times > 1:
            raise FitError(
                MotionCode.MARK_TWICE,
                _(
                    "{mark} is in the picture {times} times; take one table at a time, and put copies away.",
                    mark=capital(names[number]),
                    times=times,
                ),
            )
    if len(counted) < FEWEST_MARKS:
        raise FitError(
            MotionCode.TOO_FEW,
            _(
                "{found} of the table's {marks} marks are found and {needed} are needed: get all of them into the picture, flat, with no glare on them and nothing in front.",
                found=len(counted),
                marks=len(laid),
                needed=FEWEST_MARKS,
            ),
        )
    for sight in seen:
        if sight.number in names and not sight.sd_px <= LEAST_CLEAR * sight.side_px:
            raise FitError(
                MotionCode.UNCLEAR,
                _(
                    "{mark} is not clear in the picture: hold the camera still, wait until it is sharp, and come nearer.",
                    mark=capital(names[sight.number]),
                ),
            )


def _fits(picture: TablePicture) -> bool:
    likely = float(special.chdtri(picture.degrees, FALSE_ALARM))
    return picture.misfit <= likely and float(np.abs(picture.standardised).max()) <= FARTHEST_OFF


def _cause(laid: Sequence[LaidMark], seen: Sequence[SeenMark], picture: TablePicture) -> FitError:
    """What is wrong with a picture that does not fit: the one thing without which it does."""
    free = fit_table(laid, seen, picture.size_px, scale_sd=_FREE, start=picture.camera)
    if _fits(free):
        percent = 100.0 * (free.print_scale - 1.0)
        return FitError(
            MotionCode.PRINT_SCALE,
            _(
                "The marks are printed {size} % too large for this table: print them at 100 %, check the ruler line, "
                "and check the table's size.",
                size=numeral(figure(percent, 1)),
            )
            if percent > 0
            else _(
                "The marks are printed {size} % too small for this table: print them at 100 %, check the ruler line, "
                "and check the table's size.",
                size=numeral(figure(-percent, 1)),
            ),
        )
    shown = [mark for mark in laid if any(sight.number == mark.number for sight in seen)]
    # Nearest to fitting first, so that the mark that is wrong is named and not one that merely leaves room for it.
    loose = sorted((_without_place(mark, shown, seen, picture) for mark in shown), key=lambda each: each[0].misfit)
    fit, mark, index = loose[0]
    if _fits(fit):
        off = float(np.hypot(fit.marks[index, 0] - mark.x_mm, fit.marks[index, 1] - mark.y_mm))
        turned = abs(float(fit.marks[index, 2]) - mark.turn_deg)
        lies = (
            _(
                "{mark} lies {off} mm from its place: lay its cut corner on the table's corner again, and take the picture.",
                mark=capital(mark.words),
                off=numeral(figure(off)),
            )
            if off >= 5.0
            else _(
                "{mark} lies turned by {turn}°: lay its cut corner on the table's corner again, and take the picture.",
                mark=capital(mark.words),
                turn=numeral(figure(turned)),
            )
        )
        return FitError(
            MotionCode.MARK_MOVED,
            lies,
        )
    if len(shown) > FEWEST_MARKS:
        bent = sorted((_without(mark, shown, seen, picture) for mark in shown), key=lambda each: each[0].misfit)
        if _fits(bent[0][0]):
            return FitError(
                MotionCode.MARK_BENT,
                _(
                    "{mark} is bent or covered at a corner: fix it flat, and take the picture again.",
                    mark=capital(bent[0][1].words),
                ),
            )
    return FitError(
        MotionCode.NO_CONVERGENCE,
        _(
            "The marks do not fit together: check that each lies flat in its own corner and is printed at 100 %, and that the print is no older size; the corners are {off} pixels off.",
            off=numeral(figure(free.residual_px, 1)),
        ),
    )


def _without_place(
    mark: LaidMark, shown: Sequence[LaidMark], seen: Sequence[SeenMark], picture: TablePicture
) -> tuple[TablePicture, LaidMark, int]:
    """The fit when nothing is said of where that mark lies, and its index."""
    freed = [replace(each, sd_mm=1e4, sd_deg=360.0) if each is mark else each for each in shown]
    return fit_table(freed, seen, picture.size_px, start=picture.camera), mark, list(shown).index(mark)


def _without(
    mark: LaidMark, shown: Sequence[LaidMark], seen: Sequence[SeenMark], picture: TablePicture
) -> tuple[TablePicture, LaidMark]:
    rest = [each for each in shown if each is not mark]
    return fit_table(rest, seen, picture.size_px, start=picture.camera), mark
