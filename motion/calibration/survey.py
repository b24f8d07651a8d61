"""Where marks on the table are, from tape readings: positions with uncertainty, and which reading to take again.

A reading is the distance from a mark to a corner of the table, to one of its edges (square to it), or to another mark
that is itself measured. Two readings fix a mark, each further one checks the others. Places seen in a picture of the table
come in with their covariance and check the tape as it checks them. All marks are solved together by least squares; a reading stands out by its standardised residual (Baarda's data snooping, 1968, from memory: over 3.29,
one in a thousand).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from motion.calibration.survey_readings import (
    EDGES,
    PicturePlaces,
    SurveyedTable,
    TapeReading,
    check_readings,
    in_words,
    seen_places,
)
from motion.chance.least_squares import Array, LeastSquares, solve
from motion.course.sentences import _, in_line, numeral
from motion.errors import FitError, MotionCode
from motion.scene.records import Point
from motion.units import figure

STANDS_OUT = 3.29
#: Readings that cross flatter than this (sine of the angle) do not fix a mark.
FLATTEST = 0.1
#: Readings whose standardised residuals are this nearly as large as the largest cannot be told apart: with one spare
#: reading all that it checks have the same (seen from the equations; the share is common practice).
NEARLY = 0.9


@dataclass(frozen=True)
class SurveyMark:
    """A measured point. ``sd_mm`` is the longer half axis of its standard ellipse; ``checked`` when it has a spare."""

    name: str
    x_mm: float
    y_mm: float
    sd_x_mm: float
    sd_y_mm: float
    sd_mm: float
    checked: bool


@dataclass(frozen=True)
class Survey:
    """All marks, and for each reading its residual (measured minus solved, mm) and standardised residual.

    ``again`` lists readings to take again, worst first; only the worst is sure, since one bad reading pulls others.
    ``apart`` lists those that do not fit together where nobody can say which of them is wrong; no mark with one of them,
    or with one to take again, is checked.
    A reading that nothing checks has NaN as its standardised residual.
    """

    marks: tuple[SurveyMark, ...]
    residuals_mm: tuple[float, ...]
    standardised: tuple[float, ...]
    again: tuple[int, ...]
    sentence: str
    apart: tuple[int, ...] = ()

    def mark(self, name: str) -> SurveyMark:
        """The mark of that name."""
        return next(mark for mark in self.marks if mark.name == name)


def survey(
    width_mm: float, depth_mm: float, readings: Sequence[TapeReading], picture: PicturePlaces | None = None
) -> Survey:
    """Solve tape readings.

    Parameters
    ----------
    width_mm, depth_mm
        The table.
    readings
        In any order; marks may be measured from marks.
    picture
        Places seen in a picture. A mark that only the picture shows is known, and checked by nothing.

    Raises
    ------
    FitError
        ``not_finite``, ``absurd`` (not on this table), ``itself``, ``too_few`` (a mark with one reading, or never tied
        to the table), ``impossible_triangle`` (two readings that cannot meet), ``flat_triangle``, ``two_sides`` (two
        places fit), ``too_many``, each naming the mark and what to do.

    Examples
    --------
    >>> found = survey(2400, 1200, [TapeReading("gate", "left", 900), TapeReading("gate", "near", 500)])
    >>> found.mark("gate").x_mm, found.mark("gate").y_mm
    (900.0, 500.0)

    A tape to 2 mm and a picture to 2 mm meet half way:

    >>> seen = PicturePlaces(("gate",), np.array([[904.0, 500.0]]), 4.0 * np.eye(2))
    >>> found = survey(2400, 1200, [TapeReading("gate", "left", 900, sd_mm=2.0)], seen)
    >>> found.mark("gate").x_mm, found.mark("gate").y_mm, found.mark("gate").checked
    (902.0, 500.0, True)
    """
    shown = picture.marks if picture else ()
    check_readings(width_mm, depth_mm, readings, shown)
    names = list(dict.fromkeys([*(reading.mark for reading in readings), *shown]))
    corners = {
        "near left": (0.0, 0.0),
        "near right": (width_mm, 0.0),
        "far left": (0.0, depth_mm),
        "far right": (width_mm, depth_mm),
    }
    table = SurveyedTable(width_mm, depth_mm, corners)
    start = _first_places(table, names, readings, seen_places(table, picture))
    places, fit = _refine(table, names, readings, start, picture)
    return _report(names, readings, places, fit)


def _first_places(
    table: SurveyedTable, names: list[str], readings: Sequence[TapeReading], seen: dict[str, Point]
) -> dict[str, Point]:
    """A first place for every mark, solving those first whose origins are known."""
    known = dict(seen)
    waiting = [name for name in names if name not in seen]
    trouble: FitError | None = None
    while waiting:
        progress = False
        for name in list(waiting):
            usable = [
                r for r in _about(name, readings) if r.to in table.corners or r.to in EDGES or _other(r, name) in known
            ]
            if len(usable) < 2:
                continue
            try:
                known[name] = _place(table, name, usable, known)
            except FitError as error:  # more readings may be usable once other marks are known
                trouble = error
                continue
            waiting.remove(name)
            progress, trouble = True, None
        if not progress:
            if trouble is not None:
                raise trouble
            raise FitError(
                MotionCode.TOO_FEW,
                _("“{name}” has fewer than two readings from known places; measure one more.", name=waiting[0]),
                waiting[0],
            )
    return known


def _about(name: str, readings: Sequence[TapeReading]) -> list[TapeReading]:
    return [r for r in readings if name in (r.mark, r.to)]


def _other(reading: TapeReading, name: str) -> str:
    return reading.to if reading.mark == name else reading.mark


def _place(table: SurveyedTable, name: str, usable: list[TapeReading], known: dict[str, Point]) -> Point:
    """The place that fits the readings of one mark best, from all pairs of them."""
    candidates: list[Point] = []
    reasons: list[FitError] = []
    for first, second in combinations(usable, 2):
        try:
            candidates += [p for p in _meet(table, name, first, second, known) if table.holds(p)]
        except FitError as error:
            reasons.append(error)
    if not candidates:
        if reasons:
            raise reasons[0]
        raise FitError(
            MotionCode.ABSURD, _("The readings of “{name}” meet only off the table; take them again.", name=name), name
        )

    def cost(p: Point) -> float:
        return sum(((r.distance_mm - _distance(table, name, r, p, known)) / r.sd) ** 2 for r in usable)

    ranked = sorted(candidates, key=cost)
    best = ranked[0]
    for other in ranked[1:]:
        apart = math.dist(best, other)
        if apart > 40.0 and cost(other) - cost(best) < 9.0 and cost(other) < 9.0 * len(usable):
            raise FitError(
                MotionCode.TWO_SIDES,
                _(
                    "“{name}” may be at ({x}, {y}) or ({other_x}, {other_y}) mm; measure it from one more corner or edge.",
                    name=name,
                    x=numeral(figure(best[0])),
                    y=numeral(figure(best[1])),
                    other_x=numeral(figure(other[0])),
                    other_y=numeral(figure(other[1])),
                ),
                name,
            )
    return best


def _distance(table: SurveyedTable, name: str, reading: TapeReading, p: Point, known: dict[str, Point]) -> float:
    if reading.to in EDGES:
        a, b, c = table.edge(reading.to)
        return a * p[0] + b * p[1] + c
    return math.dist(p, table.corners.get(reading.to) or known[_other(reading, name)])


def _meet(
    table: SurveyedTable, name: str, first: TapeReading, second: TapeReading, known: dict[str, Point]
) -> list[Point]:
    """Where two readings of a mark meet: lines (edges) and circles (points)."""
    lines = [r for r in (first, second) if r.to in EDGES]
    if len(lines) == 2:
        (a, b, c), (d, e, f) = table.edge(first.to), table.edge(second.to)
        det = a * e - b * d
        if det == 0.0:
            raise FitError(
                MotionCode.FLAT_TRIANGLE,
                _(
                    "{first} and {second} measure “{name}” along the same line; measure from another edge or corner.",
                    first=in_words(first.to),
                    second=in_words(second.to),
                    name=name,
                ),
                name,
            )
        u, v = first.distance_mm - c, second.distance_mm - f
        return [((u * e - b * v) / det, (a * v - u * d) / det)]
    circles = [r for r in (first, second) if r.to not in EDGES]
    centre = table.corners.get(circles[0].to) or known[_other(circles[0], name)]
    radius = circles[0].distance_mm
    if lines:
        a, b, c = table.edge(lines[0].to)
        away = lines[0].distance_mm - (a * centre[0] + b * centre[1] + c)
        axis, foot = (-b, a), (centre[0] + a * away, centre[1] + b * away)
        gap = abs(away) - radius
        half_square = radius**2 - away**2
    else:
        other = table.corners.get(circles[1].to) or known[_other(circles[1], name)]
        base = math.dist(centre, other)
        if base < 1.0:
            return []
        r2 = circles[1].distance_mm
        along = (radius**2 - r2**2 + base**2) / (2.0 * base)
        ux, uy = (other[0] - centre[0]) / base, (other[1] - centre[1]) / base
        axis, foot = (-uy, ux), (centre[0] + ux * along, centre[1] + uy * along)
        gap = max(base - radius - r2, abs(radius - r2) - base)
        half_square = radius**2 - along**2
    if gap > 3.0 * math.hypot(first.sd, second.sd):
        raise FitError(
            MotionCode.IMPOSSIBLE_TRIANGLE,
            _(
                "“{name}” cannot be {one} mm from {first} and {other} mm from {second}: they miss each other by {gap} mm; take both again.",
                name=name,
                one=numeral(figure(first.distance_mm)),
                first=in_words(first.to),
                other=numeral(figure(second.distance_mm)),
                second=in_words(second.to),
                gap=numeral(figure(gap)),
            ),
            name,
        )
    half = math.sqrt(max(0.0, half_square))
    if half < FLATTEST * radius:
        raise FitError(
            MotionCode.FLAT_TRIANGLE,
            _(
                "The readings of “{name}” from {first} and {second} cross too flat; measure from another corner.",
                name=name,
                first=in_words(first.to),
                second=in_words(second.to),
            ),
            name,
        )
    return [(foot[0] + sign * half * axis[0], foot[1] + sign * half * axis[1]) for sign in (1.0, -1.0)]


def _refine(
    table: SurveyedTable,
    names: list[str],
    readings: Sequence[TapeReading],
    start: dict[str, Point],
    picture: PicturePlaces | None,
) -> tuple[Array, LeastSquares]:
    """Gauss-Newton over all marks at once: places (N, 2) and the last linear fit, the picture's rows after the tape's."""
    index = {name: i for i, name in enumerate(names)}
    places = np.array([start[name] for name in names])
    sd = np.array([reading.sd for reading in readings])
    if picture is not None:
        # Divided by the root of their covariance, the picture's coordinates are independent, each of unit variance.
        root = np.linalg.inv(np.linalg.cholesky(picture.covariance))
        shown = [index[name] for name in picture.marks]
        rows = np.zeros((len(root), 2 * len(names)))
        rows[:, [2 * i + axis for i in shown for axis in (0, 1)]] = root
        sd = np.concatenate([sd, np.ones(len(root))])
    for _again in range(40):
        design = np.zeros((len(readings), 2 * len(names)))
        rest = np.empty(len(readings))
        for k, reading in enumerate(readings):
            i = index[reading.mark]
            p = places[i]
            if reading.to in EDGES:
                a, b, c = table.edge(reading.to)
                design[k, 2 * i : 2 * i + 2] = a, b
                rest[k] = reading.distance_mm - (a * p[0] + b * p[1] + c)
                continue
            other = index.get(reading.to)
            q = places[other] if other is not None else np.array(table.corners[reading.to])
            distance = float(np.hypot(*(p - q)))
            towards = (p - q) / distance if distance > 1e-9 else np.array([1.0, 0.0])
            design[k, 2 * i : 2 * i + 2] = towards
            if other is not None:
                design[k, 2 * other : 2 * other + 2] = -towards
            rest[k] = reading.distance_mm - distance
        if picture is not None:
            design = np.vstack([design, rows])
            rest = np.concatenate([rest, root @ (picture.places_mm - places[shown]).ravel()])
        fit = solve(design, rest, sd)
        step = fit.values.reshape(-1, 2)
        places = places + step
        if float(np.abs(step).max()) < 1e-6:
            return places, fit
    raise FitError(MotionCode.NO_CONVERGENCE, _("These readings fit no set of places; take the flattest ones again."))


def _report(names: list[str], readings: Sequence[TapeReading], places: Array, fit: LeastSquares) -> Survey:
    count = len(readings)
    spare, residuals = 1.0 - fit.leverage[:count], fit.residuals[:count]
    sd = np.array([reading.sd for reading in readings])
    checked = spare > 1e-6
    standardised = np.full(len(readings), math.nan)
    standardised[checked] = residuals[checked] / (sd[checked] * np.sqrt(spare[checked]))
    size = np.where(checked, np.abs(standardised), 0.0)
    again = tuple(int(i) for i in np.argsort(-size, kind="stable") if size[i] > STANDS_OUT)
    apart = tuple(i for i in again if size[i] >= NEARLY * size[again[0]])
    apart = apart if len(apart) > 1 else ()
    doubted = {name for i in again for name in (readings[i].mark, readings[i].to)}
    marks = []
    for i, name in enumerate(names):
        block = fit.covariance[2 * i : 2 * i + 2, 2 * i : 2 * i + 2]
        own = [k for k, reading in enumerate(readings) if name in (reading.mark, reading.to)]
        marks.append(
            SurveyMark(
                name,
                round(float(places[i, 0]), 6) + 0.0,
                round(float(places[i, 1]), 6) + 0.0,
                math.sqrt(block[0, 0]),
                math.sqrt(block[1, 1]),
                math.sqrt(float(np.linalg.eigvalsh(block)[-1])),
                bool(checked[own].any()) and name not in doubted,
            )
        )
    return Survey(
        tuple(marks),
        tuple(map(float, residuals)),
        tuple(map(float, standardised)),
        again,
        _sentence(readings, residuals, again, apart, marks),
        apart,
    )


def _sentence(
    readings: Sequence[TapeReading],
    residuals: Array,
    again: tuple[int, ...],
    apart: tuple[int, ...],
    marks: list[SurveyMark],
) -> str:
    if apart:
        named = in_line(", ", [_reading(readings[i]) for i in sorted(apart)])
        return _(
            "These do not fit together: {readings}. One of them is wrong; measure one more to see which.",
            readings=named,
        )
    if again:
        worst = readings[again[0]]
        told = {
            "reading": _reading(worst),
            "size": numeral(figure(worst.distance_mm)),
            "off": numeral(figure(abs(residuals[again[0]]))),
        }
        if residuals[again[0]] > 0:
            return _("Take {reading} again: it reads {size} mm, {off} mm more than the others say.", **told)
        return _("Take {reading} again: it reads {size} mm, {off} mm less than the others say.", **told)
    unchecked = [mark.name for mark in marks if not mark.checked]
    if unchecked:
        return _("Nothing checks {mark} yet; one more reading from another corner or edge would.", mark=unchecked[0])
    known_to = numeral(figure(max(mark.sd_mm for mark in marks), 1))
    return _("All readings agree; the least sure mark is known to {known_to} mm.", known_to=known_to)


def _reading(reading: TapeReading) -> str:
    return _("{mark} to {place}", mark=reading.mark, place=in_words(reading.to))
