"""Corners tapped in a measured picture: where they are, what stands off, in words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _

from classroom.errors import InputError
from classroom.site.figures import figure_said, in_own_digits
from missions.models import TierVersion
from motion.calibration.standing_off import Off, StandsOff, stands_off
from motion.calibration.survey_readings import PicturePlaces
from motion.errors import FitError
from motion.picture.camera.table_fit import TablePicture
from motion.scene.records import Point
from motion.units import format_length, to_unit
from planning.errors import PlanningCode
from planning.team.measured import SurveyedObject, surveyed_objects

#: Name of a tapped corner's field: its mark follows, its value is the pixel "u v".
TAP = "tap-"
MOST_TAPS = 80


@dataclass(frozen=True)
class Standing:
    """One thing: what is off in words, "" where nothing is for sure; how sure it is."""

    name: str
    words: str
    sure: str
    is_off: bool


def read_taps(data: Mapping[str, str], edition: TierVersion, size_px: tuple[int, int]) -> dict[str, Point]:
    """Pixels by mark, of corners that the tier has.

    Raises
    ------
    InputError
        ``no_taps``, ``not_a_place`` for what is no pixel of the picture.
    """
    known = [mark for thing in surveyed_objects(edition) for mark, _ in thing.corners]
    taps = {mark: _pixel(data[TAP + mark], size_px) for mark in known if data.get(TAP + mark)}
    if not taps or len(taps) > MOST_TAPS:
        raise InputError(PlanningCode.NO_TAPS, _("Tap at least one corner of a thing in the picture first."))
    return taps


def _pixel(text: str, size_px: tuple[int, int]) -> Point:
    try:
        u, v = (float(part) for part in text.split(" "))
    except ValueError:
        u = v = math.nan
    if not (-1.0 <= u <= size_px[0] and -1.0 <= v <= size_px[1]):
        raise InputError(PlanningCode.NOT_A_PLACE, _("A tapped corner is not in the picture. Tap it again."))
    return u, v


def places_of(table: TablePicture, taps: Mapping[str, Point]) -> PicturePlaces:
    """Where tapped corners are on the table; a corner is tapped where it touches it.

    Raises
    ------
    InputError
        ``out_of_range``, ``folded``: a pixel that is past the table, or where the lens bends too much.
    """
    try:
        seen = table.places(np.array(list(taps.values())))
    except FitError as error:
        raise InputError(error.code, error.message) from error
    return PicturePlaces(tuple(taps), seen.places_mm, seen.covariance)


def standings(edition: TierVersion, places: PicturePlaces, unit: str) -> list[Standing]:
    """Of each thing with a tapped corner, in the order of the tier."""
    base = edition.version.base
    home = (sum(x for x, _ in base) / len(base), sum(y for _, y in base) / len(base))
    return [
        _standing(thing, found, unit)
        for thing in surveyed_objects(edition)
        if (found := _off(thing, places, home)) is not None
    ]


def _off(thing: SurveyedObject, places: PicturePlaces, home: Point) -> StandsOff | None:
    at = {int(mark.partition(":")[2]): i for i, mark in enumerate(places.marks) if mark.startswith(f"{thing.number}:")}
    if not at:
        return None
    rows = [2 * i + axis for i in at.values() for axis in (0, 1)]
    corners = {corner: (float(places.places_mm[i, 0]), float(places.places_mm[i, 1])) for corner, i in at.items()}
    return stands_off(thing.outline, corners, places.covariance[np.ix_(rows, rows)], home)


def _standing(thing: SurveyedObject, found: StandsOff, unit: str) -> Standing:
    parts = []
    if found.near.is_sure:
        words = _("%(size)s too near the base") if found.near.value > 0 else _("%(size)s too far from the base")
        parts.append(words % {"size": _give_or_take(found.near, unit)})
    if found.left.is_sure:
        words = (
            _("%(size)s too far left, seen from the base")
            if found.left.value > 0
            else _("%(size)s too far right, seen from the base")
        )
        parts.append(words % {"size": _give_or_take(found.left, unit)})
    if found.turned is not None and found.turned.is_sure:
        angle = f"{figure_said(abs(found.turned.value))}° ± {figure_said(found.turned.half, 1)}°"
        words = _("turned %(angle)s to the left") if found.turned.value > 0 else _("turned %(angle)s to the right")
        parts.append(words % {"angle": angle})
    sure = in_own_digits(format_length(max(found.near.half, found.left.half), unit, decimals=1))
    return Standing(_capital(thing.name), ", ".join(parts), sure, found.is_sure)


def _give_or_take(off: Off, unit: str) -> str:
    """ "1.8 ± 0.4 cm"."""
    decimals = 0 if unit == "mm" else 1
    return f"{figure_said(to_unit(abs(off.value), unit), decimals)} ± {figure_said(to_unit(off.half, unit), decimals)} {unit}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def thing_outlines(edition: TierVersion) -> Sequence[tuple[str, str, list[Point]]]:
    """What is drawn over a straightened picture: class, name and outline, in mm."""
    version = edition.version
    drawn = [("base", _("base"), [(float(x), float(y)) for x, y in version.base])]
    obstacles = len(edition.obstacles)
    for thing in surveyed_objects(edition):
        kind = "obstacle" if 0 < thing.number <= obstacles else "target"
        drawn.append((kind, thing.name, list(thing.outline)))
    return drawn
