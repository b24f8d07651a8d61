"""Which of some tape readings is the wrong one, by the known shape of the thing that was measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from motion.calibration.placing import place_outline
from motion.calibration.survey import survey
from motion.calibration.survey_readings import TapeReading
from motion.errors import FitError
from motion.scene.records import Polygon

#: Corners agree with a shape when they are within so many of their standard uncertainties of it (one in a thousand).
AGREES = 3.29


def reading_off_shape(
    width_mm: float,
    depth_mm: float,
    readings: Sequence[TapeReading],
    suspects: Sequence[int],
    corners: Mapping[str, tuple[int, int]],
    outlines: Mapping[int, Polygon],
) -> int | None:
    """The one reading without which the corners have the distances that their thing's shape has.

    Readings that check one another with a single spare cannot be told apart by themselves; the shape is the spare that
    they lack.

    Parameters
    ----------
    suspects
        Indices of readings of which one is wrong.
    corners
        A mark's name to its thing and the index of its corner.
    outlines
        A thing to its outline, mm.

    Returns
    -------
    int or None
        None when no suspect or several would do, or when one of them cannot be left out.

    Examples
    --------
    A bank of 300 x 250 mm at (900, 500); one of three readings of its near left corner is 40 mm too long.

    >>> read = [TapeReading("a", "left", 900), TapeReading("a", "near", 500), TapeReading("a", "right", 1540)]
    >>> read += [TapeReading("b", "left", 1200), TapeReading("b", "near", 500)]
    >>> bank = ((900.0, 500.0), (1200.0, 500.0), (1200.0, 750.0), (900.0, 750.0))
    >>> reading_off_shape(2400, 1200, read, (0, 2), {"a": (1, 0), "b": (1, 1)}, {1: bank})
    2
    """
    agree = []
    for suspect in suspects:
        thing, _ = corners[readings[suspect].mark]
        try:
            found = survey(width_mm, depth_mm, [each for i, each in enumerate(readings) if i != suspect])
        except FitError:
            return None
        marks = [mark for mark in found.marks if corners[mark.name][0] == thing]
        if len(marks) < 2:
            return None
        placed = place_outline(outlines[thing], {corners[mark.name][1]: (mark.x_mm, mark.y_mm) for mark in marks})
        if placed.residual_mm <= AGREES * max(mark.sd_mm for mark in marks):
            agree.append(suspect)
    return agree[0] if len(agree) == 1 else None
