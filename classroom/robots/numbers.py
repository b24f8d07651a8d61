"""What a robot's calibrations say about it today: how its numbers scale, how it scatters, and in words on what evidence."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.errors import InputError
from classroom.models import Calibration, Robot
from classroom.robots.kinds import KINDS
from classroom.robots.kinds.rest_drift import REST_DRIFT
from classroom.robots.kinds.set_down import SET_DOWN
from classroom.robots.kinds.spin import SPIN
from classroom.robots.kinds.square import SQUARE
from classroom.robots.kinds.straight import STRAIGHT
from classroom.site.figures import figure_said
from classroom.site.isolated import isolated
from motion.calibration import NOMINAL_NOISE, SpinFit, SquareFit, StraightFit
from motion.calibration.knowledge import Fits, KnownPart, knowledge_from_fits
from motion.calibration.taken import Taken
from motion.chance.hypotheses import Knowledge
from motion.errors import FitError
from motion.scene.records import Noise, Systematic

#: What an unmeasured robot's scales may be off by. Common practice, no source.
NOMINAL_SCALE_U = 0.01
#: A curve smaller than this is not worth a sentence.
TOLD_DRIFT_DEG_PER_M = 0.5


@dataclass(frozen=True)
class RobotNumbers:
    """True distance = ``distance_scale`` x typed distance; true turn = ``turn_scale`` x typed turn + ``turn_bias_deg``.

    ``drift_deg_per_m`` is how it curves, to the left positive. ``knowledge`` is how well all of that and its spreads are
    known, ``parts`` what each spread rests on. The calibrations are those in force, None where nothing was measured;
    ``calibration`` is the newest of them. ``words`` are whole sentences for a page.
    """

    distance_scale: float
    distance_scale_u: float
    turn_scale: float
    turn_scale_u: float
    turn_bias_deg: float
    drift_deg_per_m: float
    knowledge: Knowledge
    parts: tuple[KnownPart, ...]
    straight: Calibration | None
    spin: Calibration | None
    square: Calibration | None
    rest: Calibration | None
    set_down: Calibration | None
    calibration: Calibration | None
    words: tuple[str, ...]

    @property
    def measured(self) -> bool:
        """Whether distances or turns rest on a measurement at all."""
        return not (self.straight is None and self.spin is None and self.square is None)

    @property
    def noise(self) -> Noise:
        """For where no hypotheses are carried: the spreads at their best values, wider by what the systematic numbers are
        unsure by, with the fewest runs that a measured one of distances or turns rests on.
        """
        measured = [self.straight, self.spin or self.square]
        runs = min((int(one.fit.get("runs", len(one.runs))) for one in measured if one is not None), default=None)
        typical, u = self.knowledge.typical(), self.knowledge.u
        return replace(
            typical,
            distance_scale_sd=u.distance_scale,
            start_heading_sd_deg=math.hypot(typical.start_heading_sd_deg, u.start_heading_deg),
            turn_sd_deg=math.hypot(typical.turn_sd_deg, u.turn_bias_deg),
            drift_sd_deg_per_m=math.hypot(typical.drift_sd_deg_per_m, u.drift_deg_per_m),
            runs=runs,
        )

    @property
    def systematic(self) -> Systematic:
        """What it does every time and its scales do not hold."""
        return Systematic(turn_bias_deg=self.turn_bias_deg, drift_deg_per_m=self.drift_deg_per_m)

    @property
    def in_force(self) -> dict[str, Calibration]:
        """By kind."""
        found = (self.straight, self.spin, self.square, self.rest, self.set_down)
        return {one.kind: one for one in found if one is not None}


def fit_of(calibration: Calibration) -> Any:
    """The fit as motion made it, read back from its record."""
    return KINDS[calibration.kind].read_back(calibration.fit)


def _full_fit(robot: Robot, calibration: Calibration | None) -> Any:
    """The fit; worked out anew from its runs where its record is from before it told how spreads grow.

    As it was kept where these runs would be refused today.
    """
    if calibration is None:
        return None
    fit = fit_of(calibration)
    if getattr(fit, "turn_sd_deg", 0.0) is None or getattr(fit, "scale_free", 0.0) is None:
        with suppress(FitError, InputError, KeyError):
            return KINDS[calibration.kind].fit_runs(robot, calibration.runs)
    return fit


def numbers_for(robot: Robot, *, at: dt.datetime | None = None) -> RobotNumbers:
    """The robot's numbers from its calibrations in force now or at a moment, nominal where nothing was measured. One query."""
    return _numbers(robot, Calibration.objects.filter(robot=robot).in_force(at).order_by("measured_at", "pk"))


def numbers_of_each(robots: Iterable[Robot]) -> dict[int, RobotNumbers]:
    """``numbers_for`` now, of many robots by their key. One query."""
    by_key = {robot.pk: robot for robot in robots}
    found: dict[int, list[Calibration]] = {pk: [] for pk in by_key}
    for one in Calibration.objects.filter(robot__in=by_key).in_force().order_by("measured_at", "pk"):
        found[one.robot_id].append(one)
    return {pk: _numbers(robot, found[pk]) for pk, robot in by_key.items()}


def _numbers(robot: Robot, oldest_first: Iterable[Calibration]) -> RobotNumbers:
    newest = {c.kind: c for c in oldest_first}
    straight, spin = newest.get(STRAIGHT.key), newest.get(SPIN.key)
    square, rest, set_down = newest.get(SQUARE.key), newest.get(REST_DRIFT.key), newest.get(SET_DOWN.key)
    straight_fit: StraightFit | None = _full_fit(robot, straight)
    spin_fit: SpinFit | None = _full_fit(robot, spin)
    square_fit: SquareFit | None = fit_of(square) if square else None
    distance, distance_u = (straight_fit.scale, straight_fit.scale_u) if straight_fit else (1.0, NOMINAL_SCALE_U)
    turn, turn_u = _turn_scale(spin_fit, square_fit)
    fits = Fits(straight_fit, spin_fit, square_fit, _full_fit(robot, set_down))
    nominal = replace(NOMINAL_NOISE, yaw_reference=robot.yaw_reference)
    knowledge, parts = knowledge_from_fits(fits, nominal=nominal, taken=_taken(newest))
    turn *= 1.0 + knowledge.mean.turn_scale  # what the bias gave up
    knowledge = replace(knowledge, mean=replace(knowledge.mean, turn_scale=0.0))
    return RobotNumbers(
        distance_scale=distance,
        distance_scale_u=distance_u,
        turn_scale=turn,
        turn_scale_u=turn_u,
        turn_bias_deg=knowledge.mean.turn_bias_deg,
        drift_deg_per_m=knowledge.mean.drift_deg_per_m,
        knowledge=knowledge,
        parts=parts,
        straight=straight,
        spin=spin,
        square=square,
        rest=rest,
        set_down=set_down,
        calibration=max(newest.values(), key=lambda c: (c.measured_at, c.pk), default=None),
        words=tuple(_words(robot, newest, (distance, distance_u), (turn, turn_u), knowledge.mean)),
    )


def _taken(newest: dict[str, Calibration]) -> Taken:
    """The readings of the calibrations in force, as they were written down; runs that lack one are left out."""

    def readings(kind: str, *keys: str, may_lack: str = "") -> tuple[Any, ...]:
        runs = newest[kind].runs if kind in newest else []
        rows = [tuple(run.get(key) for key in (*keys, *filter(None, [may_lack]))) for run in runs]
        return tuple(row for row in rows if None not in row[: len(keys)])

    down = readings(SET_DOWN.key, "ahead_mm", "front_left_mm", "back_left_mm")
    return Taken(
        straight=readings(STRAIGHT.key, "commanded_mm", "measured_mm", may_lack="sideways_mm"),
        spin=readings(SPIN.key, "commanded_deg", "measured_deg"),
        set_down=down,
        marks_apart_mm=newest[SET_DOWN.key].runs[0]["marks_apart_mm"] if down else 0.0,
    )


def unmeasured_numbers() -> RobotNumbers:
    """Those of a robot of which nothing is known: a kit's usual ones."""
    knowledge, parts = knowledge_from_fits(Fits())
    u = NOMINAL_SCALE_U
    return RobotNumbers(1.0, u, 1.0, u, 0.0, 0.0, knowledge, parts, None, None, None, None, None, None, ())


def _turn_scale(spin: SpinFit | None, square: SquareFit | None) -> tuple[float, float]:
    """Scale and uncertainty: from spins, else from the square's corners, else nominal."""
    if spin is not None:
        return spin.turn_scale, spin.turn_scale_u
    if square is not None:
        return 1.0 / square.track_ratio, square.track_ratio_u / square.track_ratio**2
    return 1.0, NOMINAL_SCALE_U


def _words(
    robot: Robot,
    newest: dict[str, Calibration],
    distance: tuple[float, float],
    turn: tuple[float, float],
    mean: Systematic,
) -> list[str]:
    bias = mean.turn_bias_deg
    straight = newest.get(STRAIGHT.key)
    turning = newest.get(SPIN.key) or newest.get(SQUARE.key)
    if straight is None and turning is None:
        lacking = _(
            "%(robot)s has not been measured yet. These are a kit's usual numbers: measure straight runs and spins first."
        )
        return [lacking % {"robot": isolated(robot.name)}]
    said = []
    if straight is not None:
        told = ngettext(
            "For every 100 it is told it goes %(really)s (give or take %(u)s), from %(runs)s straight run.",
            "For every 100 it is told it goes %(really)s (give or take %(u)s), from %(runs)s straight runs.",
            len(straight.runs),
        )
        really, u = figure_said(distance[0] * 100, 1), figure_said(distance[1] * 100, 1)
        said.append(told % {"really": really, "u": u, "runs": len(straight.runs)})
    else:
        said.append(_("Distances are not measured yet: a kit's usual numbers stand in."))
    if turning is not None:
        runs = len(turning.runs)
        told = (
            ngettext(
                "Told 90° it turns %(turn)s° (give or take %(u)s), from %(runs)s spin.",
                "Told 90° it turns %(turn)s° (give or take %(u)s), from %(runs)s spins.",
                runs,
            )
            if turning.kind == SPIN.key
            else ngettext(
                "Told 90° it turns %(turn)s° (give or take %(u)s), from %(runs)s square.",
                "Told 90° it turns %(turn)s° (give or take %(u)s), from %(runs)s squares.",
                runs,
            )
        )
        said.append(
            told % {"turn": figure_said(turn[0] * 90 + bias, 1), "u": figure_said(turn[1] * 90, 1), "runs": runs}
        )
    else:
        said.append(_("Turns are not measured yet: a kit's usual numbers stand in."))
    if abs(mean.drift_deg_per_m) >= TOLD_DRIFT_DEG_PER_M:
        curves = (
            _("It curves left by %(turn)s° a metre; the numbers to type allow for it.")
            if mean.drift_deg_per_m > 0
            else _("It curves right by %(turn)s° a metre; the numbers to type allow for it.")
        )
        said.append(curves % {"turn": figure_said(abs(mean.drift_deg_per_m), 1)})
    if any(c.measured_at < robot.changed_at for c in newest.values()):
        said.append(_("It was rebuilt since it was last measured: measure it again."))
    return said
