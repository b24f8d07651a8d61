"""What a survey is made of: the table, readings of a tape, places of a picture, and what is wrong with them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from motion.chance.least_squares import Array
from motion.course.sentences import _, numeral
from motion.errors import FitError, MotionCode
from motion.scene.records import Point
from motion.units import figure

CORNERS = ("near left", "near right", "far left", "far right")
EDGES = ("left", "right", "near", "far")
_IN_WORDS = {
    "near left": _("near left"),
    "near right": _("near right"),
    "far left": _("far left"),
    "far right": _("far right"),
    "left": _("left"),
    "right": _("right"),
    "near": _("near"),
    "far": _("far"),
}
#: Standard uncertainty of a tape reading: a fixed part (mm) and a part of the length. Common practice, no source.
TAPE_SD_MM, TAPE_SD_FRACTION = 1.5, 0.001


@dataclass(frozen=True)
class TapeReading:
    """The tape from ``mark`` to ``to``: a corner, an edge, or another mark's name. ``sd_mm`` None: an ordinary tape."""

    mark: str
    to: str
    distance_mm: float
    sd_mm: float | None = None

    @property
    def sd(self) -> float:
        return math.hypot(TAPE_SD_MM, TAPE_SD_FRACTION * self.distance_mm) if self.sd_mm is None else self.sd_mm


def in_words(place: str) -> str:
    """A corner, an edge or another mark as a sentence names it.

    >>> in_words("near left"), in_words("gate")
    ('near left', 'gate')
    """
    return _IN_WORDS.get(place, place)


@dataclass(frozen=True)
class PicturePlaces:
    """Where a picture shows marks: places (n, 2) in mm and the covariance of all, (2n, 2n), x and y of each in turn."""

    marks: tuple[str, ...]
    places_mm: Array
    covariance: Array


@dataclass(frozen=True)
class SurveyedTable:
    """A rectangular table, its corners by name."""

    width: float
    depth: float
    corners: dict[str, Point]

    def edge(self, name: str) -> tuple[float, float, float]:
        """(a, b, c): the distance to the edge is a x + b y + c inside the table."""
        return {
            "left": (1.0, 0.0, 0.0),
            "right": (-1.0, 0.0, self.width),
            "near": (0.0, 1.0, 0.0),
            "far": (0.0, -1.0, self.depth),
        }[name]

    def holds(self, p: Point, slack: float = 15.0) -> bool:
        return -slack <= p[0] <= self.width + slack and -slack <= p[1] <= self.depth + slack


def check_readings(width: float, depth: float, readings: Sequence[TapeReading], shown: Sequence[str]) -> None:
    """Refuses readings that no tape takes; ``shown`` are marks that a picture shows.

    Raises
    ------
    FitError
        As ``survey`` says.

    Examples
    --------
    >>> check_readings(2400, 1200, [TapeReading("gate", "left", 9000)], ())
    Traceback (most recent call last):
        ...
    motion.errors.FitError: readings[0]: gate to left is 9000 mm, longer than the table's diagonal; check its unit.
    """
    if not (math.isfinite(width) and math.isfinite(depth) and width > 0 and depth > 0):
        raise FitError(MotionCode.ABSURD, _("The table's sides are positive lengths; measure them first."), "table")
    if not readings and not shown:
        raise FitError(MotionCode.TOO_FEW, _("There are no readings yet; measure each mark from two corners or edges."))
    if len(readings) > 500:
        raise FitError(MotionCode.TOO_MANY, _("Over 500 readings; survey the marks in smaller groups."))
    longest = math.hypot(width, depth)
    known = {reading.mark for reading in readings} | set(shown) | set(CORNERS) | set(EDGES)
    for i, reading in enumerate(readings):
        place = f"readings[{i}]"
        if not (math.isfinite(reading.distance_mm) and math.isfinite(reading.sd)):
            raise FitError(
                MotionCode.NOT_FINITE, _("The reading of {mark} has no number; fill it in.", mark=reading.mark), place
            )
        if reading.distance_mm < 0 or reading.sd <= 0:
            raise FitError(
                MotionCode.ABSURD, _("A distance is zero or more, its uncertainty over zero; correct it."), place
            )
        if reading.distance_mm > longest + 50.0:
            raise FitError(
                MotionCode.ABSURD,
                _(
                    "{mark} to {place} is {size} mm, longer than the table's diagonal; check its unit.",
                    mark=reading.mark,
                    place=in_words(reading.to),
                    size=numeral(figure(reading.distance_mm)),
                ),
                place,
            )
        if reading.mark in CORNERS or reading.mark in EDGES or reading.mark == reading.to:
            raise FitError(
                MotionCode.ITSELF,
                _("“{mark}” is not a mark to be measured; name the mark first.", mark=reading.mark),
                place,
            )
        if reading.to not in known:
            raise FitError(
                MotionCode.TOO_FEW,
                _("“{name}” is neither a corner, an edge nor a measured mark; measure it too.", name=reading.to),
                place,
            )


def seen_places(table: SurveyedTable, picture: PicturePlaces | None) -> dict[str, Point]:
    """Where the picture shows marks, looked at as closely as readings are.

    Raises
    ------
    FitError
        ``itself``, ``shape``, ``not_finite``, ``bad_sd``, ``absurd`` (not on this table).

    Examples
    --------
    >>> table = SurveyedTable(2400.0, 1200.0, {})
    >>> seen_places(table, PicturePlaces(("gate",), np.array([[900.0, 500.0]]), np.eye(2)))
    {'gate': (900.0, 500.0)}
    """
    if picture is None:
        return {}
    n = len(picture.marks)
    if len(set(picture.marks)) < n or {*CORNERS, *EDGES} & set(picture.marks):
        raise FitError(
            MotionCode.ITSELF, _("Each mark of a picture needs a name of its own; name them anew."), "picture"
        )
    if picture.places_mm.shape != (n, 2) or picture.covariance.shape != (2 * n, 2 * n):
        raise FitError(MotionCode.SHAPE, _("Each mark of a picture needs its place; give as many of both."), "picture")
    if not (np.isfinite(picture.places_mm).all() and np.isfinite(picture.covariance).all()):
        raise FitError(MotionCode.NOT_FINITE, _("A place of the picture has no number; leave it out."), "picture")
    if n and float(np.linalg.eigvalsh(picture.covariance)[0]) <= 0.0:
        raise FitError(MotionCode.BAD_SD, _("The uncertainty of a place is a positive number."), "picture")
    places = {name: (float(x), float(y)) for name, (x, y) in zip(picture.marks, picture.places_mm, strict=True)}
    for name, place in places.items():
        if not table.holds(place):
            raise FitError(
                MotionCode.ABSURD,
                _("“{name}” is off the table in the picture; choose its place again.", name=name),
                name,
            )
    return places
