"""How a robot's small errors grow along a course: mean and spread of where it ends, in closed form.

Motion model. A leg of commanded length d is a straight chord of length d (1 + s) + e in the direction of the heading
at its start plus half of the drift on it; s is one common scale error for the whole run, e the leg's own length error,
and the drift (an even curve) turns the heading by the full drift until the leg's end. A turn adds its own error.
Yaw ``"relative"``: every turn starts from the heading that the robot really has, so all heading errors add up.
Yaw ``"absolute"``: a turn goes to a heading counted from the start, so it takes back earlier turn errors and drift; the
start heading error stays, because the yaw counts from there.

What a robot is known to do every time (``Systematic``) and what it is told in place of the course as meant shift the
course itself; the small errors are about the shifted one.

After Thrun, Burgard and Fox, Probabilistic Robotics, chapter 5 (standard deviations, not variances, throughout); the
closed form is derived and agrees with ``published`` values by two routes in ``tests/motion/chance/test_error.py``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from motion.chance.least_squares import Array
from motion.course.actions import Action, Drive, Push, Turn
from motion.course.sentences import _
from motion.errors import MotionCode, MotionError
from motion.scene.records import Noise, Pose, Systematic

#: Parameters of a calibration, in the order of a Jacobian's columns, with their units. Positive: goes too far, turns
#: too far, curves to the left, stands turned to the left, stands ahead along +x or +y.
PARAMETERS: tuple[tuple[str, str], ...] = (
    ("distance_scale", "fraction"),
    ("start_x", "mm"),
    ("start_y", "mm"),
    ("start_heading", "deg"),
    ("turn_scale", "fraction"),
    ("turn_bias", "deg per turn"),
    ("drift", "deg per m"),
)
SCALE, START_X, START_Y, START_HEADING, TURN_SCALE, TURN_BIAS, DRIFT = range(7)
OWN = 7  # first column of the errors that belong to single actions, two an action
NONE = Systematic()


class Chain(NamedTuple):
    """A course as a linear function of small errors, to first order about the course as it is expected.

    ``heading`` (L,) rad and ``length`` (L,) mm of the legs; ``turn_of`` (L, m) heading error of each leg's chord and
    ``length_of`` (L, m) length error per unit of each error; ``end_turn_of`` (m,) and ``end_heading`` of the end;
    ``sd`` (m,) in rad, mm or as a fraction. The first seven errors are ``PARAMETERS`` (angles in rad here).
    ``mean`` (m,): by how much each error shifts the course that was meant, which is what ``heading``, ``length`` and
    ``start`` hold already.
    """

    start: Array
    heading: Array
    length: Array
    turn_of: Array
    length_of: Array
    end_heading: float
    end_turn_of: Array
    sd: Array
    mean: Array


def chain_of(
    start: Pose,
    actions: Sequence[Action],
    noise: Noise,
    *,
    kappa: float = 0.5,
    systematic: Systematic = NONE,
    told: Sequence[Action] | None = None,
) -> Chain:
    """The chain of a course.

    Parameters
    ----------
    start, actions
        All of the actions count, to the last.
    noise
        Spreads and how yaw is counted.
    kappa
        1/2 when a leg's heading error builds up evenly along it (a real drift), 1 when it holds from its beginning.
    systematic
        What the robot does every time.
    told
        What it is told so that it drives ``actions``, action by action, if that is not the same.

    Raises
    ------
    MotionError
        ``not_finite``, ``bad_noise``, ``shape``.
    """
    sd = _sds(noise, len(actions))
    mean = _means(systematic, len(sd))
    size = len(sd)
    turn = np.zeros(size)
    turn[START_HEADING] = 1.0
    heading = math.radians(start.heading_deg)
    astray = 0.0  # by how much the heading that was told is off the one that was meant (rad)
    told = actions if told is None else told
    if len(told) != len(actions):
        raise MotionError(MotionCode.SHAPE, _("What is told has one number for each action of the course."), "told")
    legs: list[tuple[float, float, Array, Array]] = []
    for k, action in enumerate(actions):
        own = OWN + 2 * k
        if isinstance(action, Turn):
            by = math.radians(_finite(action.by_deg, k))
            if noise.yaw_reference == "absolute":
                turn = np.zeros(size)
                turn[START_HEADING] = 1.0
            else:
                turn = turn.copy()
            asked = told[k]
            asks = math.radians(_finite(asked.by_deg, k)) if isinstance(asked, Turn) else by
            turn[TURN_SCALE] += asks
            turn[TURN_BIAS] += float(np.sign(asks))
            turn[own] = 1.0
            sd[own] = math.radians(noise.turn_sd(math.degrees(asks)))
            astray += asks - by
            mean[own] = astray if noise.yaw_reference == "absolute" else asks - by
            heading += by
        elif isinstance(action, Drive | Push):
            d = _finite(action.distance_mm, k)
            along = np.zeros(size)
            along[SCALE], along[own] = d, 1.0
            sd[own] = noise.distance_sd_fraction * abs(d)
            sd[own + 1] = math.radians(noise.drift_sd_deg_per_m) * abs(d) / 1000.0
            drift = np.zeros(size)
            drift[DRIFT], drift[own + 1] = d / 1000.0, 1.0
            legs.append((heading, d, turn + kappa * drift, along))
            turn = turn + drift
    empty = np.zeros((0, size))
    turn_of = np.array([leg[2] for leg in legs]) if legs else empty
    length_of = np.array([leg[3] for leg in legs]) if legs else empty
    return Chain(
        np.array([start.x_mm, start.y_mm]) + mean[[START_X, START_Y]],
        np.array([leg[0] for leg in legs]) + turn_of @ mean,
        np.array([leg[1] for leg in legs]) + length_of @ mean,
        turn_of,
        length_of,
        heading + float(turn @ mean),
        turn,
        sd,
        mean,
    )


def _means(systematic: Systematic, size: int) -> Array:
    mean = np.zeros(size)
    mean[:OWN] = astuple(systematic)
    mean[[START_HEADING, TURN_BIAS, DRIFT]] *= math.pi / 180.0
    if not np.isfinite(mean).all():
        raise MotionError(MotionCode.NOT_FINITE, _("A robot's number is missing; calibrate it again."), "systematic")
    return mean


def _sds(noise: Noise, actions: int) -> Array:
    given = (
        noise.distance_scale_sd,
        noise.start_position_sd_mm,
        noise.start_heading_sd_deg,
        noise.turn_sd_deg,
        noise.turn_growth_sd_deg,
        noise.drift_sd_deg_per_m,
        noise.distance_sd_fraction,
    )
    if not all(math.isfinite(value) and value >= 0.0 for value in given):
        raise MotionError(MotionCode.BAD_NOISE, _("Every spread is zero or more; calibrate the robot again."), "noise")
    if noise.yaw_reference not in ("absolute", "relative"):
        raise MotionError(MotionCode.BAD_NOISE, _("Yaw is counted “absolute” (from the start) or “relative”."), "noise")
    sd = np.zeros(OWN + 2 * actions)
    sd[SCALE] = noise.distance_scale_sd
    sd[START_X] = sd[START_Y] = noise.start_position_sd_mm
    sd[START_HEADING] = math.radians(noise.start_heading_sd_deg)
    return sd


def _finite(value: float, index: int) -> float:
    if not math.isfinite(value):
        raise MotionError(
            MotionCode.NOT_FINITE, _("A distance or an angle is missing; fill it in."), f"actions[{index}]"
        )
    return value


class Growth(NamedTuple):
    """Pose at the end: ``mean`` (3,) and ``covariance`` (3, 3) of x, y (mm) and heading (rad)."""

    mean: Array
    covariance: Array


def sensitivity(chain: Chain) -> Array:
    """Jacobian (3, m) of the end (x, y in mm, heading in rad) with respect to every error of the chain."""
    jacobian = np.zeros((3, len(chain.sd)))
    jacobian[0, START_X] = jacobian[1, START_Y] = 1.0
    c, s = np.cos(chain.heading), np.sin(chain.heading)
    jacobian[0] += c @ chain.length_of - (chain.length * s) @ chain.turn_of
    jacobian[1] += s @ chain.length_of + (chain.length * c) @ chain.turn_of
    jacobian[2] = chain.end_turn_of
    return jacobian


def first_order(chain: Chain) -> Growth:
    """Mean and covariance to first order."""
    end = chain.start + np.array([chain.length @ np.cos(chain.heading), chain.length @ np.sin(chain.heading)]).reshape(
        2
    )
    spread = sensitivity(chain) * chain.sd
    return Growth(np.array([end[0], end[1], chain.end_heading]), spread @ spread.T)


def exact(chain: Chain) -> Growth:
    """Mean and covariance when all errors are Gaussian, without linearising.

    ``E[x + iy] = sum d_k exp(i Theta_k) exp(-C_kk / 2)`` with C the covariance of the chords' headings; second moments
    and the correlation with the heading likewise (moments of the complex exponential of a Gaussian).
    """
    scaled = chain.turn_of * chain.sd
    c = scaled @ scaled.T
    own = np.diag(c)
    z = chain.length * np.exp(1j * chain.heading - own / 2.0)
    mean = complex(z.sum())
    lengths = chain.length_of * chain.sd
    relative = np.zeros_like(c)
    both = np.outer(chain.length, chain.length)
    np.divide(lengths @ lengths.T, both, out=relative, where=both != 0.0)
    plain = np.outer(z, z) * np.exp(-c) * (1.0 + relative)
    turned = np.outer(z, z.conj()) * np.exp(c) * (1.0 + relative)
    zz, zc = complex(plain.sum()) - mean**2, complex(turned.sum()) - abs(mean) ** 2
    xx, yy, xy = (zc + zz).real / 2.0, (zc - zz).real / 2.0, zz.imag / 2.0
    end = chain.end_turn_of * chain.sd
    with_heading = complex((1j * z * (scaled @ end)).sum())
    start = chain.sd[START_X] ** 2
    covariance = np.array(
        [
            [xx + start, xy, with_heading.real],
            [xy, yy + start, with_heading.imag],
            [with_heading.real, with_heading.imag, float(end @ end)],
        ]
    )
    return Growth(np.array([chain.start[0] + mean.real, chain.start[1] + mean.imag, chain.end_heading]), covariance)


def grow(
    turns_rad: ArrayLike,
    distances_mm: ArrayLike,
    *,
    turn_sd: ArrayLike = 0.0,
    leg_sd: ArrayLike = 0.0,
    distance_sd: ArrayLike = 0.0,
    scale_sd: float = 0.0,
    start_heading_sd: float = 0.0,
    kappa: float = 0.5,
    gaussian: bool = False,
) -> Growth:
    """Error growth along legs from the origin with heading 0, relative turns, on plain arrays.

    Parameters
    ----------
    turns_rad, distances_mm
        Shape (n,): turn first, then drive.
    turn_sd, leg_sd, distance_sd
        Shape (n,) or one number: SD of each turn (rad), of the heading error on each leg (rad), of each length (mm).
    scale_sd, start_heading_sd
        Common scale error and start heading error.
    kappa
        See ``chain_of``.
    gaussian
        Exact Gaussian moments in place of first order.

    >>> growth = grow([0.0], [1000.0], turn_sd=0.01)  # 0.01 rad over a metre: 10 mm to the side
    >>> round(float(growth.covariance[1, 1]) ** 0.5, 6)
    10.0
    """
    turns = np.asarray(turns_rad, dtype=float)
    lengths = np.asarray(distances_mm, dtype=float)
    if turns.ndim != 1 or turns.shape != lengths.shape:
        raise MotionError(MotionCode.SHAPE, _("Give one turn and one distance a leg."))
    actions: list[Action] = []
    for by, d in zip(turns, lengths, strict=True):
        actions += [Turn(math.degrees(by), 0.0), Drive(float(d))]
    noise = Noise(scale_sd, 0.0, math.degrees(start_heading_sd), 0.0, 0.0, 0.0, "relative")
    chain = chain_of(Pose(0.0, 0.0, 0.0), actions, noise, kappa=kappa)
    own = chain.sd[OWN:].reshape(-1, 4)  # turn, unused, length, drift of each leg
    own[:, 0], own[:, 2], own[:, 3] = turn_sd, distance_sd, leg_sd
    return exact(chain) if gaussian else first_order(chain)
