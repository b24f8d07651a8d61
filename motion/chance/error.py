"""How a robot's small errors grow along a course: mean, spread and what contributes to it, in closed form.

Motion model. A leg of commanded length d is a straight chord of length d (1 + s) + e in the direction of the heading
at its start plus half of the drift on it; s is one common scale error for the whole run, e the leg's own length error,
and the drift (an even curve) turns the heading by the full drift until the leg's end. A turn adds its own error.
Yaw ``"relative"``: every turn starts from the heading that the robot really has, so all heading errors add up.
Yaw ``"absolute"``: a turn goes to a heading counted from the start, so it takes back earlier turn errors and drift; the
start heading error stays, because the yaw counts from there.

After Thrun, Burgard and Fox, Probabilistic Robotics, chapter 5 (standard deviations, not variances, throughout); the
closed form is derived and agrees with ``published`` values by two routes in ``tests/motion/chance/test_error.py``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from motion.chance.least_squares import Array
from motion.course.actions import Action, Drive, Landing, Push, Share, Tool, Turn
from motion.errors import MotionCode, MotionError
from motion.scene.records import Noise, Pose, Scene
from motion.units import wrap_deg

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


class Chain(NamedTuple):
    """A course as a linear function of small errors, to first order about the exact course.

    ``heading`` (L,) rad and ``length`` (L,) mm of the legs; ``turn_of`` (L, m) heading error of each leg's chord and
    ``length_of`` (L, m) length error per unit of each error; ``end_turn_of`` (m,) and ``end_heading`` of the end;
    ``sd`` (m,) in rad, mm or as a fraction. The first seven errors are ``PARAMETERS`` (angles in rad here).
    """

    start: Array
    heading: Array
    length: Array
    turn_of: Array
    length_of: Array
    end_heading: float
    end_turn_of: Array
    sd: Array


def chain_of(start: Pose, actions: Sequence[Action], noise: Noise, *, kappa: float = 0.5) -> Chain:
    """The chain of a course.

    Parameters
    ----------
    start, actions
        All of the actions count, to the last.
    noise
        Spreads and how yaw is counted.
    kappa
        1/2 when a leg's heading error builds up evenly along it (a real drift), 1 when it holds from its beginning.

    Raises
    ------
    MotionError
        ``not_finite``, ``bad_noise``.
    """
    sd = _sds(noise, len(actions))
    size = len(sd)
    turn = np.zeros(size)
    turn[START_HEADING] = 1.0
    heading = math.radians(start.heading_deg)
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
            turn[TURN_SCALE] += by
            turn[TURN_BIAS] += float(np.sign(by))
            turn[own] = 1.0
            sd[own] = math.radians(noise.turn_sd_deg)
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
    return Chain(
        np.array([start.x_mm, start.y_mm]),
        np.array([leg[0] for leg in legs]),
        np.array([leg[1] for leg in legs]),
        np.array([leg[2] for leg in legs]) if legs else empty,
        np.array([leg[3] for leg in legs]) if legs else empty,
        heading,
        turn,
        sd,
    )


def _sds(noise: Noise, actions: int) -> Array:
    given = (
        noise.distance_scale_sd,
        noise.start_position_sd_mm,
        noise.start_heading_sd_deg,
        noise.turn_sd_deg,
        noise.drift_sd_deg_per_m,
        noise.distance_sd_fraction,
    )
    if not all(math.isfinite(value) and value >= 0.0 for value in given):
        raise MotionError(MotionCode.BAD_NOISE, "Every spread is zero or more; calibrate the robot again.", "noise")
    if noise.yaw_reference not in ("absolute", "relative"):
        raise MotionError(MotionCode.BAD_NOISE, "Yaw is counted “absolute” (from the start) or “relative”.", "noise")
    sd = np.zeros(OWN + 2 * actions)
    sd[SCALE] = noise.distance_scale_sd
    sd[START_X] = sd[START_Y] = noise.start_position_sd_mm
    sd[START_HEADING] = math.radians(noise.start_heading_sd_deg)
    return sd


def _finite(value: float, index: int) -> float:
    if not math.isfinite(value):
        raise MotionError(MotionCode.NOT_FINITE, "A distance or an angle is missing; fill it in.", f"actions[{index}]")
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
        raise MotionError(MotionCode.SHAPE, "Give one turn and one distance a leg.")
    actions: list[Action] = []
    for by, d in zip(turns, lengths, strict=True):
        actions += [Turn(math.degrees(by), 0.0), Drive(float(d))]
    noise = Noise(scale_sd, 0.0, math.degrees(start_heading_sd), 0.0, 0.0, 0.0, "relative")
    chain = chain_of(Pose(0.0, 0.0, 0.0), actions, noise, kappa=kappa)
    own = chain.sd[OWN:].reshape(-1, 4)  # turn, unused, length, drift of each leg
    own[:, 0], own[:, 2], own[:, 3] = turn_sd, distance_sd, leg_sd
    return exact(chain) if gaussian else first_order(chain)


def miss(scene: Scene, pose: Pose) -> tuple[float, float, float]:
    """How far a pose at the end of the push is from the one aimed at: along (mm), to the left (mm), heading (deg).

    >>> from motion.scene.example import example_scene
    >>> miss(example_scene(), Pose(1153, 245, 2))  # aimed at (1150, 250) and heading 0
    (3.0, -5.0, 2.0)
    """
    aim = scene.target.precontact
    h = math.radians(aim.heading_deg)
    dx, dy = pose.x_mm - aim.x_mm, pose.y_mm - aim.y_mm
    along = dx * math.cos(h) + dy * math.sin(h) - scene.target.push_leg_mm
    return along, dy * math.cos(h) - dx * math.sin(h), wrap_deg(pose.heading_deg - aim.heading_deg)


def until_landing(actions: Sequence[Action]) -> Sequence[Action]:
    """The actions up to and with the last push.

    Raises
    ------
    MotionError
        ``no_push``.

    >>> [action.do for action in until_landing([Drive(900), Push(100), Drive(-1000)])]
    ['drive', 'push']
    """
    pushes = [k for k, action in enumerate(actions) if isinstance(action, Push)]
    if not pushes:
        raise MotionError(
            MotionCode.NO_PUSH, "The course never pushes; add the push leg to know where it lands.", "actions"
        )
    return actions[: pushes[-1] + 1]


@dataclass(frozen=True)
class LandingErrors:
    """Landing in the target's frame: ``mean`` (3,) and ``jacobian`` (3, m) of along, lateral (mm), heading (rad)."""

    mean: Array
    jacobian: Array
    covariance: Array
    covariance_xy: Array
    sd: Array


def landing_errors(scene: Scene, start: Pose, actions: Sequence[Action], *, gaussian: bool = False) -> LandingErrors:
    """The landing of a course with its sensitivity to every error, in the target's frame.

    The landing is the pose of the axle's midpoint at the end of the push leg.
    """
    chain = chain_of(start, until_landing(actions), scene.noise)
    growth = exact(chain) if gaussian else first_order(chain)
    x, y, heading = growth.mean
    mean = np.array(miss(scene, Pose(float(x), float(y), math.degrees(heading))))
    mean[2] = math.radians(mean[2])
    h = math.radians(scene.target.precontact.heading_deg)
    c, s = math.cos(h), math.sin(h)
    into = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return LandingErrors(
        mean, into @ sensitivity(chain), into @ growth.covariance @ into.T, growth.covariance[:2, :2], chain.sd
    )


def parameter_jacobian(scene: Scene, start: Pose, actions: Sequence[Action], *, front_mm: float = 0.0) -> Array:
    """Jacobian (3, 7) of the landing (along mm, lateral mm, heading deg) with respect to ``PARAMETERS`` in their units.

    ``front_mm`` is how far ahead of the axle the lateral miss is measured: 0 at the axle, the nose's reach at the nose.
    """
    jacobian = landing_errors(scene, start, actions).jacobian[:, :OWN].copy()
    jacobian[:, [START_HEADING, TURN_BIAS, DRIFT]] *= math.pi / 180.0
    jacobian[1] += front_mm * jacobian[2]
    jacobian[2] = np.degrees(jacobian[2])
    return jacobian


def landing(
    scene: Scene, start: Pose, actions: Sequence[Action], *, gaussian: bool = False
) -> tuple[Landing, tuple[Share, ...]]:
    """Predicted spread where the robot meets the target, and which action contributes how much to it.

    Parameters
    ----------
    scene, start, actions
        The course as planned; what follows the push is not looked at.
    gaussian
        Exact Gaussian moments in place of first order.

    Returns
    -------
    Landing, tuple of Share
        The pose of the axle's midpoint at the end of the push leg, in the target's frame. The shares, largest first,
        are parts of the summed variance of along, lateral and heading, each measured in units of its window, and sum
        to 1; what belongs to the whole run ("start" and "scale") has ``action`` -1. Without noise there are none.

    Raises
    ------
    MotionError
        ``no_push``, ``not_finite``, ``bad_noise``.

    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()  # set down within 3 mm, and 0.4 % of a metre is 4 mm: 5 mm along
    >>> spread, shares = landing(scene, scene.start, [Drive(900), Push(100)])
    >>> round(spread.along_sd_mm, 6), round(spread.lateral_sd_mm, 6), shares[0].source
    (5.0, 3.0, 'start')
    """
    errors = landing_errors(scene, start, actions, gaussian=gaussian)
    along, lateral, heading = (math.sqrt(max(0.0, v)) for v in np.diag(errors.covariance))
    xy = errors.covariance_xy
    result = Landing(
        along_mm=float(errors.mean[0]),
        lateral_mm=float(errors.mean[1]),
        heading_deg=math.degrees(errors.mean[2]),
        along_sd_mm=along,
        lateral_sd_mm=lateral,
        heading_sd_deg=math.degrees(heading),
        covariance_xy_mm2=((float(xy[0, 0]), float(xy[0, 1])), (float(xy[1, 0]), float(xy[1, 1]))),
    )
    return result, _shares(scene, actions, errors)


def _shares(scene: Scene, actions: Sequence[Action], errors: LandingErrors) -> tuple[Share, ...]:
    window = scene.target.window
    size = np.array(
        [
            max((window.short_mm + window.long_mm) / 2.0, 1e-3),
            max(window.lateral_mm, 1e-3),
            max(math.radians(window.heading_deg), 1e-6),
        ]
    )
    parts = np.sum((errors.jacobian * errors.sd / size[:, None]) ** 2, axis=0)
    total = float(parts.sum())
    if total <= 0.0:
        return ()
    found = [
        Share(-1, float(parts[SCALE]) / total, "scale"),
        Share(-1, float(parts[[START_X, START_Y, START_HEADING]].sum()) / total, "start"),
    ]
    for k, action in enumerate(actions[: (len(parts) - OWN) // 2]):
        own = OWN + 2 * k
        if isinstance(action, Turn):
            found.append(Share(k, float(parts[own]) / total, "turn"))
        elif not isinstance(action, Tool):
            found.append(Share(k, float(parts[own]) / total, "distance"))
            found.append(Share(k, float(parts[own + 1]) / total, "drift"))
    return tuple(sorted((share for share in found if share.fraction > 0.0), key=lambda share: -share.fraction))
