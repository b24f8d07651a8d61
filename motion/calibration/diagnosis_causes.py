"""What can be behind a row of misses: the causes that a diagnosis knows, and how each shifts every run.

A cause is a column of a linear model: how far one unit of it moves where a run lands. The calibration numbers come from
the course's Jacobian; a moved target shifts all runs to it alike, the other way round; a falling battery is a distance
scale that grows from run to run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from motion.chance.error import OWN, PARAMETERS, SCALE
from motion.chance.landing import landing_errors, parameter_jacobian
from motion.chance.least_squares import Array
from motion.chance.logged import READING_SD, Logged, Miss
from motion.course.sentences import _
from motion.errors import FitError, MotionCode

#: Names and units, in the order of the model's columns. Positive: the target stands farther on along the push, farther
#: to its left, turned to the left; distances grow from run to run.
CAUSES: tuple[tuple[str, str], ...] = (
    *PARAMETERS,
    ("target_along", "mm"),
    ("target_lateral", "mm"),
    ("target_heading", "deg"),
    ("battery", "fraction per 10 runs"),
)
TARGET, BATTERY = OWN, OWN + 3
#: So many runs in order of time before a trend is looked for.
FEWEST_FOR_TREND = 5


@dataclass(frozen=True)
class Prior:
    """How large systematic departures usually are (SD about zero). Common practice, no source."""

    distance_scale: float = 0.03
    start_x_mm: float = 8.0
    start_y_mm: float = 8.0
    start_heading_deg: float = 2.0
    turn_scale: float = 0.03
    turn_bias_deg: float = 3.0
    drift_deg_per_m: float = 3.0
    target_mm: float = 15.0
    target_heading_deg: float = 3.0
    battery: float = 0.02

    def sds(self) -> Array:
        """In the order of ``CAUSES``.

        >>> dict(zip([name for name, _ in CAUSES], Prior().sds().tolist(), strict=True))["target_heading"]
        3.0
        """
        sds = np.array(
            [
                self.distance_scale,
                self.start_x_mm,
                self.start_y_mm,
                self.start_heading_deg,
                self.turn_scale,
                self.turn_bias_deg,
                self.drift_deg_per_m,
                self.target_mm,
                self.target_mm,
                self.target_heading_deg,
                self.battery,
            ]
        )
        if not (np.isfinite(sds).all() and (sds > 0).all()):
            raise FitError(MotionCode.BAD_SD, _("Every spread of the prior is a positive number."), "prior")
        return sds


@dataclass(frozen=True)
class Run:
    """One measured run: which of along (mm), lateral (mm) and heading (deg) were ``seen``, and those rows of the model.

    ``rest`` is the miss without what was expected of it, ``noise`` its covariance as the robot's noise says, ``slope``
    (d, causes) what each cause adds. ``place`` is its course and its place among that course's misses; ``number`` is
    what it is called, from 1 on.
    """

    place: tuple[int, int]
    number: int
    seen: tuple[int, ...]
    rest: Array
    noise: Array
    slope: Array


def runs_of(courses: Sequence[Logged], in_time: Sequence[tuple[int, int]] | None = None) -> list[Run]:
    """The measured runs of one robot's courses, as the model sees them.

    Parameters
    ----------
    courses
        Each with its misses.
    in_time
        (course, miss) of each run, the earliest first; None when their order is not known.

    Raises
    ------
    FitError
        ``not_finite``, ``absurd``, ``shape``; MotionError for a course that cannot land.

    Examples
    --------
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, misses = example_scene(), (Miss(along_mm=40), Miss(), Miss(along_mm=42))
    >>> [(run.number, run.rest.tolist()) for run in runs_of([Logged(scene, scene.start, example_course(), misses)])]
    [(1, [40.0]), (3, [42.0])]
    """
    places = [(c, m) for c, course in enumerate(courses) for m in range(len(course.misses))]
    if in_time is not None and sorted(in_time) != places:
        raise FitError(MotionCode.SHAPE, _("The order of time names each run once, by its course and miss."), "in_time")
    number = {place: k for k, place in enumerate(places if in_time is None else in_time)}
    found = []
    for c, course in enumerate(courses):
        aim, noise, slope = _model(course, courses[0])
        for m, miss in enumerate(course.misses):
            seen, values = _values(miss, m)
            if seen:
                at, rows = number[c, m], list(seen)
                own = slope[rows].copy()
                own[:, BATTERY] = own[:, SCALE] * at / 10.0 if in_time is not None else 0.0
                found.append(Run((c, m), at + 1, seen, values - aim[rows], noise[np.ix_(rows, rows)], own))
    return found


def causes_for(runs: Sequence[Run]) -> list[int]:
    """Columns of the causes that these runs could show at all: a trend needs enough runs in order of time.

    >>> causes_for([]) == list(range(10))
    True
    """
    trend = len(runs) >= FEWEST_FOR_TREND and any(run.slope[:, BATTERY].any() for run in runs)
    return list(range(BATTERY + 1 if trend else BATTERY))


def _model(course: Logged, first: Logged) -> tuple[Array, Array, Array]:
    """What is expected of a course's runs (3,), their covariance (3, 3) and slope (3, causes), in mm and degrees."""
    errors = landing_errors(course.scene, course.start, course.actions, told=course.told)
    to_deg = np.diag([1.0, 1.0, math.degrees(1.0)])
    noise = to_deg @ errors.covariance @ to_deg + np.diag(np.square(READING_SD))
    slope = np.zeros((3, len(CAUSES)))
    slope[:, :OWN] = parameter_jacobian(course.scene, course.start, course.actions, told=course.told)
    target = course.scene.target
    if target.body == first.scene.target.body:  # the same thing, perhaps met from another side
        by = math.radians(first.scene.target.precontact.heading_deg - target.precontact.heading_deg)
        c, s = math.cos(by), math.sin(by)
        slope[:, TARGET:BATTERY] = -np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    return to_deg @ errors.mean, noise, slope


def _values(miss: Miss, index: int) -> tuple[tuple[int, ...], Array]:
    every = (miss.along_mm, miss.lateral_mm, miss.heading_deg)
    seen = tuple(k for k, value in enumerate(every) if value is not None)
    values = np.array([every[k] for k in seen], dtype=float)
    if not np.isfinite(values).all():
        raise FitError(
            MotionCode.NOT_FINITE, _("A miss is not a number; correct it or leave it empty."), f"misses[{index}]"
        )
    if (np.abs(values) > np.array([2000.0, 2000.0, 180.0])[list(seen)]).any():
        raise FitError(MotionCode.ABSURD, _("A miss is over 2 m or half a turn; check its unit."), f"misses[{index}]")
    return seen, values
