"""What is known of a robot from its calibrations: each spread and each systematic number, and what it rests on."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import astuple, dataclass, replace
from typing import NamedTuple

import numpy as np

from motion.calibration.noise import NOMINAL_NOISE
from motion.calibration.set_down import SetDownFit
from motion.calibration.square import SquareFit
from motion.calibration.straight import StraightFit
from motion.calibration.taken import Taken, readings_of
from motion.calibration.turning import SpinFit
from motion.calibration.variances import root_of_variance
from motion.chance.hypotheses import NOMINAL_FREEDOM, SPREADS, Beforehand, Knowledge, KnownSpread, pooled
from motion.scene.records import Noise, Systematic

#: How far off the numbers of a kit may be that nobody has measured (standard deviations). Common practice, no source.
NOMINAL_U = Systematic(
    distance_scale=0.01,
    start_x_mm=1.0,
    start_y_mm=1.0,
    start_heading_deg=0.4,
    turn_scale=0.01,
    turn_bias_deg=1.0,
    drift_deg_per_m=1.0,
)
#: How far off a scale and a curve may be that are being measured: a kit may be built or set wrong. As above.
ANY_SCALE_U, ANY_DRIFT_U = 0.03, 2.0
NOTHING_TAKEN = Taken()
#: Of the degrees of freedom that runs leave, one of two spreads that they tell apart gets one in so many.
SHARE_OF_RUNS, DRIFT_SHARE = 6.0, 40.0
#: What is left of a bias (degrees) when turns were measured at one size and their scale holds it. As above.
HELD_BIAS_DEG = 0.4


@dataclass(frozen=True)
class KnownPart:
    """One of the things that a prediction rests on.

    ``spread`` is a name of ``hypotheses.SPREADS``; ``source`` the kind of calibration that it is from ("straight",
    "spin", "square", "set_down"), or "nominal".
    """

    spread: str
    source: str


@dataclass(frozen=True)
class Fits:
    """The newest fit of each kind; None where nothing was measured."""

    straight: StraightFit | None = None
    spin: SpinFit | None = None
    square: SquareFit | None = None
    set_down: SetDownFit | None = None


def weighed(value: float, value_u: float | None, usual_u: float) -> tuple[float, float]:
    """A measured number and the kit's usual one (nothing, give or take ``usual_u``) together, and their uncertainty.

    The mean of two normals by their inverse variances. A measured number without an uncertainty is taken as it is.

    >>> weighed(2.0, 1.0, 1.0), weighed(2.0, None, 1.0)
    ((1.0, 0.7071067811865476), (2.0, 1.0))
    """
    if value_u is None:
        return value, usual_u
    share = usual_u**2 / (usual_u**2 + value_u**2)
    return share * value, math.sqrt(share) * value_u


def knowledge_from_fits(
    fits: Fits, *, nominal: Noise = NOMINAL_NOISE, taken: Taken = NOTHING_TAKEN
) -> tuple[Knowledge, tuple[KnownPart, ...]]:
    """What calibrations say of a robot that types its corrected numbers.

    A measured spread is pooled with the kit's nominal one, which counts for a few runs. A measured curve or turn's bias is
    weighed with what a kit's usually is: few runs may be less sure of it than that. The readings behind the fits, where
    they are at hand, say more than the fits do and are handed on for hypotheses to be weighed by.

    Examples
    --------
    >>> knowledge, parts = knowledge_from_fits(Fits())
    >>> knowledge.spreads[0], parts[0]
    (KnownSpread(value=0.004, freedom=4.0), KnownPart(spread='distance_sd_fraction', source='nominal'))
    """
    found = {name: KnownSpread(getattr(nominal, name), NOMINAL_FREEDOM) for name in SPREADS}
    source = dict.fromkeys(SPREADS, "nominal")

    def take(name: str, value: float, freedom: float, kind: str) -> None:
        found[name] = pooled(value, freedom, getattr(nominal, name))
        source[name] = kind

    mean, u, correlation = Systematic(), NOMINAL_U, 0.0
    if (straight := fits.straight) is not None:
        take("distance_sd_fraction", straight.fraction_sd, straight.scale_free or straight.runs - 1, "straight")
        u = replace(u, distance_scale=straight.scale_u)
        if straight.drift_deg_per_m is not None and straight.drift_sd_deg_per_m is not None:
            free = straight.drift_free or straight.runs - 1.0
            sd = root_of_variance(straight.drift_sd_deg_per_m, free)
            told = _shared(free, straight.runs, DRIFT_SHARE) if straight.drift_alone else free
            take("drift_sd_deg_per_m", sd, told, "straight")
            drift, drift_u = weighed(straight.drift_deg_per_m, straight.drift_u_deg_per_m, u.drift_deg_per_m)
            mean, u = replace(mean, drift_deg_per_m=drift), replace(u, drift_deg_per_m=drift_u)
            if straight.drift_alone and straight.start_heading_sd_deg is not None:
                take("start_heading_sd_deg", straight.start_heading_sd_deg, _shared(None, straight.runs), "straight")
    if (spin := fits.spin) is not None:
        if spin.turn_sd_deg is not None and spin.turn_growth_sd_deg is not None:
            take("turn_sd_deg", spin.turn_sd_deg, _shared(spin.turn_free, spin.runs), "spin")
            take("turn_growth_sd_deg", spin.turn_growth_sd_deg, _shared(spin.turn_growth_free, spin.runs), "spin")
        u = replace(u, turn_scale=spin.turn_scale_u)
        if spin.turn_bias_deg is not None and spin.turn_bias_u_deg is not None:
            turns = _turns(spin.turn_bias_deg, spin, u.turn_bias_deg)
            mean = replace(mean, turn_scale=turns.scale, turn_bias_deg=turns.bias)
            u = replace(u, turn_scale=turns.scale_u, turn_bias_deg=turns.bias_u)
            correlation = turns.correlation
        else:
            u = replace(u, turn_bias_deg=HELD_BIAS_DEG)
    elif (square := fits.square) is not None:
        share, corner = nominal.turn_sd(90.0), square.turn_sd_deg(nominal.yaw_reference)
        free = square.runs - 2.0
        take("turn_sd_deg", corner * nominal.turn_sd_deg / share, free, "square")
        take("turn_growth_sd_deg", corner * nominal.turn_growth_sd_deg / share, free, "square")
        u = replace(u, turn_scale=square.track_ratio_u / square.track_ratio**2, turn_bias_deg=HELD_BIAS_DEG)
    if (set_down := fits.set_down) is not None:
        take("start_position_sd_mm", set_down.position_sd_mm, 2.0 * set_down.free, "set_down")
        take("start_heading_sd_deg", set_down.heading_sd_deg, set_down.free, "set_down")
    spreads = tuple(found[name] for name in SPREADS)
    parts = tuple(KnownPart(name, source[name]) for name in SPREADS)
    known = Knowledge(spreads, mean, u, nominal.yaw_reference, correlation)
    return _with_readings(known, fits, taken, source, nominal), parts


def _with_readings(known: Knowledge, fits: Fits, taken: Taken, source: Mapping[str, str], nominal: Noise) -> Knowledge:
    """The same with the readings that the fits were made of, and with what was believed of the robot before them."""
    straight, turns = fits.straight.scale if fits.straight else 1.0, fits.spin.turn_scale if fits.spin else 1.0
    readings = readings_of(taken, known.mean, straight, turns)
    if not readings:
        return known
    spreads = tuple(
        KnownSpread(getattr(nominal, name), NOMINAL_FREEDOM) if getattr(taken, source[name], ()) else spread
        for name, spread in zip(SPREADS, known.spreads, strict=True)
    )
    off, u = Systematic(), known.u
    if taken.straight:
        off = replace(off, distance_scale=1.0 / straight - 1.0 - known.mean.distance_scale)
        u = replace(u, distance_scale=ANY_SCALE_U)
        if any(left is not None for _, _, left in taken.straight):
            off = replace(off, drift_deg_per_m=-known.mean.drift_deg_per_m)
            u = replace(u, drift_deg_per_m=ANY_DRIFT_U)
    if taken.spin:
        off = replace(
            off, turn_scale=1.0 / turns - 1.0 - known.mean.turn_scale, turn_bias_deg=-known.mean.turn_bias_deg
        )
        u = replace(u, turn_scale=ANY_SCALE_U, turn_bias_deg=NOMINAL_U.turn_bias_deg)
    return replace(known, readings=readings, before=Beforehand(spreads, astuple(off), u))


def _shared(free: float | None, runs: int, share: float = SHARE_OF_RUNS) -> float:
    """Degrees of freedom of one of two spreads that the same runs tell apart: a part of what they leave at most.

    A variance part that came out large looks surer than it is (its information grows with it). Found by simulation, so
    that truths lie where they should between the quantiles (``honest.calibration_spreads``).
    """
    most = (runs - 2) / share
    return most if free is None else min(free, most)


class _Turns(NamedTuple):
    """How much more than its fitted scale a robot turns (a share), and its bias (degrees), with their uncertainties."""

    scale: float
    scale_u: float
    bias: float
    bias_u: float
    correlation: float


def _turns(bias: float, spin: SpinFit, usual_u: float) -> _Turns:
    """A fitted scale and bias together with what a kit's bias usually is: what the bias gives up the scale takes over."""
    sds = np.array([max(spin.turn_scale_u, 1e-9), max(spin.turn_bias_u_deg or 0.0, 1e-9)])
    tied = min(max(spin.scale_bias_correlation or 0.0, -0.999), 0.999)
    fitted = np.linalg.inv(np.outer(sds, sds) * np.array([[1.0, tied], [tied, 1.0]]))
    covariance = np.linalg.inv(fitted + np.diag([0.0, usual_u**-2.0]))
    scale, kept = covariance @ fitted @ np.array([0.0, bias])
    scale_u, bias_u = np.sqrt(np.diag(covariance))
    return _Turns(
        float(scale), float(scale_u), float(kept), float(bias_u), float(covariance[0, 1] / (scale_u * bias_u))
    )
