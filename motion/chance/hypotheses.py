"""How well a robot is known: weighted hypotheses about its spreads and about what it does every time.

Each hypothesis is one robot that this one might be: six spreads and seven systematic numbers. The spreads are drawn
(a Latin hypercube) from about what calibrations say, each a scaled inverse chi-squared with as many degrees of freedom
as the measurement had and a few more for the kit's nominal number. Given its spreads, a hypothesis is weighted by every
reading of the calibrations and by the logged misses in closed form: both are linear in the systematic numbers (of a
course by its Jacobian) with Gaussian noise on top, so that these can be integrated out, and are then drawn from what the
readings and misses leave of them. Many candidates are weighed so, and as many as are kept are drawn from them by their
weights; that they were drawn from about the right place already is taken back in the weights (importance sampling).

After Gelman et al., Bayesian Data Analysis, chapters 2 and 14 (conjugate priors of a variance and of a linear model);
McKay, Beckman and Conover 1979 for the hypercube.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import NamedTuple

import numpy as np
from scipy import special

from motion.chance.error import OWN, TURN_BIAS, TURN_SCALE
from motion.chance.landing import landing_errors, parameter_jacobian
from motion.chance.least_squares import Array
from motion.chance.logged import READING_SD, Logged
from motion.scene.records import Noise, Systematic

#: Fields of ``Noise`` that are uncertain spreads, in the order of ``Hypotheses.spreads``.
SPREADS = (
    "distance_sd_fraction",
    "start_position_sd_mm",
    "start_heading_sd_deg",
    "turn_sd_deg",
    "turn_growth_sd_deg",
    "drift_sd_deg_per_m",
)
COUNT = 256
#: So many candidates for each hypothesis are weighed in closed form, when there is something to weigh them by.
CANDIDATES = 8
#: Beside the seven systematic numbers: how straight runs were set down on average while measuring (deg, left positive).
#: On the mission's table it is set down against other marks. Common practice, no source.
ASKEW = OWN
ASKEW_U_DEG = 0.2
#: How many runs' worth a kit's nominal spread counts for: right up to a factor of about two. Common practice, no source.
NOMINAL_FREEDOM = 4.0
#: A measured landing this improbable (chi-squared of its two or three numbers) is a slip and not this robot's scatter.
SLIP = 30.0
_TO_DEG = np.diag([1.0, 1.0, 180.0 / math.pi])


def noise_of(spreads: Sequence[float] | Array, yaw_reference: str) -> Noise:
    """One robot's spreads, in the order of ``SPREADS``, as a noise.

    >>> noise_of([0.004, 3, 1, 0.6, 0.4, 1], "absolute").turn_sd(-360)
    1.0
    """
    fraction, position, heading, turn, growth, drift = (float(value) for value in spreads)
    return Noise(0.0, position, heading, turn, drift, fraction, yaw_reference, turn_growth_sd_deg=growth)


class KnownSpread(NamedTuple):
    """A standard deviation and how well it is known: as from so many degrees of freedom."""

    value: float
    freedom: float


class Reading(NamedTuple):
    """One number read while measuring: ``off`` from what ``Knowledge.mean`` lets expect.

    It is linear in the seven systematic numbers and ``ASKEW`` (``slope``, (8,)); its variance is ``shares`` (6,) times the
    squared spreads, and ``known`` beside them.
    """

    off: float
    slope: tuple[float, ...]
    shares: tuple[float, ...]
    known: float


class Beforehand(NamedTuple):
    """What was believed before these readings were taken: ``spreads``, and the systematic numbers as ``off`` (7,) from
    ``Knowledge.mean`` with their standard uncertainties ``u``.
    """

    spreads: tuple[KnownSpread, ...]
    off: tuple[float, ...]
    u: Systematic


@dataclass(frozen=True)
class Knowledge:
    """What calibrations say about a robot, before any run is looked at.

    ``spreads`` in the order of ``SPREADS``; ``mean`` and ``u`` of the systematic numbers (standard uncertainties);
    ``turn_correlation`` between the errors of a turn's scale and of its bias, which one fit gives together. These sum up
    the calibrations; where their ``readings`` are at hand, hypotheses rest on them and on what was believed ``before``.
    """

    spreads: tuple[KnownSpread, ...]
    mean: Systematic
    u: Systematic
    yaw_reference: str = "absolute"
    turn_correlation: float = 0.0
    readings: tuple[Reading, ...] = ()
    before: Beforehand | None = None

    def covariance(self) -> Array:
        """Of the systematic numbers (7, 7), in the units of ``error.PARAMETERS``."""
        u = np.maximum(_vector(self.u), 1e-9)
        found = np.diag(u**2)
        found[TURN_SCALE, TURN_BIAS] = found[TURN_BIAS, TURN_SCALE] = (
            self.turn_correlation * u[TURN_SCALE] * u[TURN_BIAS]
        )
        return found

    def typical(self) -> Noise:
        """The spreads at their best values."""
        return noise_of([spread.value for spread in self.spreads], self.yaw_reference)


@dataclass(frozen=True, eq=False)
class Hypotheses:
    """H robots that this one might be.

    Attributes
    ----------
    spreads
        (H, 6), in the order of ``SPREADS`` and in the units of ``Noise``.
    systematic
        (H, 7), in the order and units of ``error.PARAMETERS``.
    weights
        (H,), summing to 1.
    """

    spreads: Array
    systematic: Array
    weights: Array

    def __repr__(self) -> str:
        parts = (self.spreads, self.systematic, self.weights)
        digest = hashlib.sha256(b"".join(np.ascontiguousarray(part).tobytes() for part in parts)).hexdigest()
        return f"Hypotheses({len(self.weights)}, {digest[:16]})"

    def weighted(self, log_likelihood: Array) -> Hypotheses:
        """The same robots with their weights multiplied by a likelihood, (H,) of logarithms."""
        with np.errstate(divide="ignore"):
            logs = np.log(self.weights) + log_likelihood
        weights = np.exp(logs - logs.max())
        return replace(self, weights=weights / weights.sum())

    def thinned(self, count: int) -> Hypotheses:
        """So many of them, all alike in weight, that stand for all (systematic resampling)."""
        with np.errstate(divide="ignore"):
            chosen = _resampled(np.log(self.weights), count)
        return Hypotheses(self.spreads[chosen], self.systematic[chosen], np.full(count, 1.0 / count))

    def noise(self, yaw_reference: str) -> Noise:
        """The typical spreads: root of the weighted mean of the variances."""
        return noise_of(np.sqrt(self.weights @ self.spreads**2), yaw_reference)

    def covariance(self) -> Array:
        """(7, 7): how little is known of what the robot does every time, in the units of ``error.PARAMETERS``."""
        off = self.systematic - self.weights @ self.systematic
        return np.asarray((off * self.weights[:, None]).T @ off)

    def expected(self) -> Systematic:
        """The weighted mean of what the robot does every time."""
        return Systematic(*(float(value) for value in self.weights @ self.systematic))


def drawn(knowledge: Knowledge, runs: Sequence[Logged] = (), *, count: int = COUNT, seed: int = 0) -> Hypotheses:
    """Hypotheses from calibrations and from the measured misses of runs.

    Parameters
    ----------
    knowledge
        What calibrations say.
    runs
        The robot's runs since it was last changed. Runs without a measured miss are not looked at here.
    count, seed
        How many hypotheses, and of which stream.

    Returns
    -------
    Hypotheses
        The same for the same input.

    Examples
    --------
    A robot of which only the kit's nominal numbers are known, and that surely does nothing every time.

    >>> spreads = tuple(KnownSpread(value, 4.0) for value in (0.004, 3.0, 1.0, 0.6, 0.4, 1.0))
    >>> robots = drawn(Knowledge(spreads, Systematic(), Systematic()))
    >>> robots.spreads.shape, robots.systematic.shape, round(float(robots.weights.sum()), 9)
    ((256, 6), (256, 7), 1.0)
    """
    normal = special.ndtri(_hypercube(count, OWN, seed))
    mean = _vector(knowledge.mean)
    facts = [fact for logged in runs for fact in _facts(logged, knowledge)]
    many = CANDIDATES * count if facts or knowledge.readings else count
    cube = _hypercube(many, len(SPREADS), seed + 1)
    spreads = np.column_stack([_spread_quantiles(spread, cube[:, k]) for k, spread in enumerate(knowledge.spreads)])
    if many == count:
        root = np.linalg.cholesky(knowledge.covariance())
        return Hypotheses(spreads, mean + normal @ root.T, np.full(count, 1.0 / count))
    weighed = _begun(knowledge, spreads)
    if knowledge.readings:
        _weigh_readings(weighed, knowledge.readings, spreads)
    for fact in facts:
        _weigh_runs(weighed, fact, spreads)
    covariance = np.linalg.inv(weighed.information)
    shift = np.einsum("hab,hb->ha", covariance, weighed.score)
    log = weighed.log + 0.5 * np.einsum("ha,ha->h", shift, weighed.score) + 0.5 * np.linalg.slogdet(covariance)[1]
    chosen = _resampled(log, count)
    root = np.linalg.cholesky(covariance[chosen, :OWN, :OWN])
    systematic = mean + shift[chosen, :OWN] + np.einsum("hab,hb->ha", root, normal)
    return Hypotheses(spreads[chosen], systematic, np.full(count, 1.0 / count))


class _Weighed(NamedTuple):
    """Of each candidate: information (C, 8, 8) and score (C, 8) of what a robot does every time, and the logarithm of how
    well its spreads agree with all so far (C,). Added to in place.
    """

    information: Array
    score: Array
    log: Array


def _begun(knowledge: Knowledge, spreads: Array) -> _Weighed:
    many, before = len(spreads), knowledge.before
    information, score, log = np.zeros((many, OWN + 1, OWN + 1)), np.zeros((many, OWN + 1)), np.zeros(many)
    information[:, ASKEW, ASKEW] = ASKEW_U_DEG**-2.0
    if before is None:
        information[:, :OWN, :OWN] = np.linalg.inv(knowledge.covariance())
        return _Weighed(information, score, log)
    precision = np.maximum(_vector(before.u), 1e-9) ** -2.0
    information[:, range(OWN), range(OWN)] = precision
    score[:, :OWN] = precision * np.array(before.off)
    for k, (was, drawn_from) in enumerate(zip(before.spreads, knowledge.spreads, strict=True)):
        log += _log_density(was, spreads[:, k]) - _log_density(drawn_from, spreads[:, k])
    return _Weighed(information, score, log)


def _log_density(spread: KnownSpread, at: Array) -> Array:
    """Of the variance, up to a constant: a scaled inverse chi-squared."""
    return np.asarray(-(spread.freedom + 2.0) * np.log(at) - 0.5 * spread.freedom * (spread.value / at) ** 2)


def _weigh_readings(weighed: _Weighed, readings: Sequence[Reading], spreads: Array) -> None:
    off, known = np.array([each.off for each in readings]), np.array([each.known for each in readings])
    slope, shares = np.array([each.slope for each in readings]), np.array([each.shares for each in readings])
    variance = spreads**2 @ shares.T + known
    inverse = 1.0 / variance
    pairs = slope[:, :, None] * slope[:, None, :]
    weighed.information[:] += (inverse @ pairs.reshape(len(off), -1)).reshape(weighed.information.shape)
    weighed.score[:] += (inverse * off) @ slope
    weighed.log[:] -= 0.5 * (np.log(variance) + inverse * off**2).sum(1)


def _weigh_runs(weighed: _Weighed, fact: _Fact, spreads: Array) -> None:
    noise = np.einsum("hs,sij->hij", spreads**2, fact.per_spread) + fact.reading
    inverse = np.linalg.inv(noise)
    weighed.information[:, :OWN, :OWN] += fact.runs * np.einsum("ia,hij,jb->hab", fact.slope, inverse, fact.slope)
    weighed.score[:, :OWN] += np.einsum("ia,hij,j->ha", fact.slope, inverse, fact.total)
    log = weighed.log
    log -= 0.5 * fact.runs * np.linalg.slogdet(noise)[1] + 0.5 * np.einsum("hij,ji->h", inverse, fact.squares)


def _resampled(log: Array, count: int) -> Array:
    """Indices of so many candidates that stand for all by their weights (systematic resampling)."""
    weights = np.exp(log - log.max())
    reached = np.cumsum(weights / weights.sum())
    at = (np.arange(count) + 0.5) / count
    return np.asarray(np.searchsorted(reached, at).clip(0, len(log) - 1))


class _Fact(NamedTuple):
    """Runs of one course of which the same numbers were measured: k of along, lateral (mm), heading (deg).

    ``per_spread`` (6, k, k): covariance of the landing for each spread at 1; ``reading`` (k, k); ``slope`` (k, 7) with
    respect to the systematic numbers; ``total`` (k,) and ``squares`` (k, k): sums of what is left of the misses.
    """

    runs: int
    per_spread: Array
    reading: Array
    slope: Array
    total: Array
    squares: Array


def _facts(logged: Logged, knowledge: Knowledge) -> list[_Fact]:
    scene = replace(logged.scene, systematic=knowledge.mean)
    if not any(miss.measured for miss in logged.misses):
        return []
    errors = landing_errors(scene, logged.start, logged.actions, told=logged.told)
    slope = parameter_jacobian(scene, logged.start, logged.actions, told=logged.told)
    per_spread = []
    for only in np.eye(len(SPREADS)):
        one = noise_of(only, knowledge.yaw_reference)
        own = landing_errors(replace(scene, noise=one), logged.start, logged.actions, told=logged.told)
        per_spread.append(_TO_DEG @ own.covariance @ _TO_DEG)
    typical = sum(spread.value**2 * part for spread, part in zip(knowledge.spreads, per_spread, strict=True))
    prior = slope @ knowledge.covariance() @ slope.T
    widest = 4.0 * typical + prior + np.diag(np.square(READING_SD))
    groups: dict[tuple[int, ...], list[Array]] = {}
    for miss in logged.misses:
        values = (miss.along_mm, miss.lateral_mm, miss.heading_deg)
        seen = tuple(k for k, value in enumerate(values) if value is not None)
        if not seen:
            continue
        rest = np.array([values[k] for k in seen], dtype=float) - (_TO_DEG @ errors.mean)[list(seen)]
        if rest @ np.linalg.solve(widest[np.ix_(seen, seen)], rest) < SLIP:
            groups.setdefault(seen, []).append(rest)
    return [
        _Fact(
            runs=len(rests),
            per_spread=np.array([part[np.ix_(seen, seen)] for part in per_spread]),
            reading=np.diag(np.square(READING_SD))[np.ix_(seen, seen)],
            slope=slope[list(seen)],
            total=np.sum(rests, axis=0),
            squares=np.einsum("ri,rj->ij", np.array(rests), np.array(rests)),
        )
        for seen, rests in groups.items()
    ]


def pooled(measured: float, freedom: float, nominal: float) -> KnownSpread:
    """A measured spread together with the kit's nominal one, which counts for a few runs.

    >>> pooled(2.0, 4, 1.0)
    KnownSpread(value=1.5811388300841898, freedom=8.0)
    """
    total = freedom + NOMINAL_FREEDOM
    return KnownSpread(math.sqrt((freedom * measured**2 + NOMINAL_FREEDOM * nominal**2) / total), total)


def _spread_quantiles(spread: KnownSpread, at: Array) -> Array:
    return np.asarray(spread.value * np.sqrt(spread.freedom / special.chdtri(spread.freedom, at)))


def _vector(systematic: Systematic) -> Array:
    return np.array([getattr(systematic, field.name) for field in fields(systematic)], dtype=float)


def _hypercube(count: int, dimensions: int, seed: int) -> Array:
    rng = np.random.default_rng(seed)
    ranks = np.array([rng.permutation(count) for _ in range(dimensions)]).T
    return np.asarray((ranks + 0.5) / count)
