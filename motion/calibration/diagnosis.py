"""Why do the runs miss? From logged misses to the one calibration number that explains them, or none.

Every miss is linear in the calibration parameters through the course's Jacobian, with the robot's own run-to-run noise
on top. Each single cause (and, if one leaves too much unexplained, each pair) is weighed against "no cause" by its
Bayes factor, its size having a normal prior about zero. Under no cause a Bayes factor over k has a chance of at most
1/k (Markov's inequality), so asking for 20 times the number of causes keeps false claims under one in twenty.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from motion.calibration.diagnosis_words import advice_for, corrected_actions, mean_in_words, words_for
from motion.chance.error import OWN, PARAMETERS
from motion.chance.landing import landing_errors, parameter_jacobian
from motion.chance.least_squares import Array
from motion.chance.logged import READING_SD, Logged
from motion.course.actions import Action
from motion.errors import FitError, MotionCode

FEWEST_RUNS = 3
#: Odds that a single cause must have against none.
CLAIM = math.log(20.0 * len(PARAMETERS))
#: Another cause within this Bayes factor of the best cannot be told apart from it.
ALIKE = math.log(10.0)


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

    def sds(self) -> Array:
        """In the order of ``error.PARAMETERS``."""
        return np.array(
            [
                self.distance_scale,
                self.start_x_mm,
                self.start_y_mm,
                self.start_heading_deg,
                self.turn_scale,
                self.turn_bias_deg,
                self.drift_deg_per_m,
            ]
        )


@dataclass(frozen=True)
class Finding:
    """One parameter that is off: its size, standard uncertainty and sentence; ``weight`` is its log Bayes factor."""

    parameter: str
    unit: str
    size: float
    uncertainty: float
    sentence: str
    weight: float


@dataclass(frozen=True)
class Diagnosis:
    """What the misses say.

    Attributes
    ----------
    verdict
        ``"too_few"``, ``"no_pattern"`` or ``"pattern"``.
    sentence, evidence, advice
        In words: what, on what it rests, what to try.
    findings
        One or two causes when there is a pattern.
    alternatives
        Other single causes that these runs cannot tell apart from the first.
    corrected
        The first course's actions with corrected numbers; the same actions when there is nothing to correct in them.
    posterior_mean, posterior_sd
        All parameters of ``error.PARAMETERS`` jointly, in their units.
    runs
        How many usable runs.
    """

    verdict: str
    sentence: str
    evidence: str
    advice: str
    findings: tuple[Finding, ...]
    alternatives: tuple[Finding, ...]
    corrected: tuple[Action, ...]
    posterior_mean: tuple[float, ...]
    posterior_sd: tuple[float, ...]
    runs: int


def diagnose(courses: Sequence[Logged], prior: Prior | None = None) -> Diagnosis:
    """Diagnose the misses of one robot's courses; different courses tell causes apart.

    Parameters
    ----------
    courses
        Each as it was run, with its scene (robot and noise) and the runs that reached the target.
    prior
        How large departures usually are.

    Raises
    ------
    FitError
        ``too_few``, ``not_finite``, ``bad_sd``, ``absurd`` (a miss over 2 m or 180 degrees); MotionError for a course
        that cannot land.

    Examples
    --------
    Four runs of a course that ends a metre ahead, each some 40 mm too far.

    >>> from motion.chance.logged import Miss
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, misses = example_scene(), tuple(Miss(along_mm=far) for far in (40, 41, 39, 40))
    >>> found = diagnose([Logged(scene, scene.start, example_course(), misses)])
    >>> found.sentence, found.evidence
    ('Distances come out 4.0 ± 0.3 % too long.', 'Rests on 4 runs: on average 40 mm too far.')
    """
    if not courses:
        raise FitError(MotionCode.TOO_FEW, "There is no course to look at; log runs of a course first.")
    sds = (prior or Prior()).sds()
    if not (np.isfinite(sds).all() and (sds > 0).all()):
        raise FitError(MotionCode.BAD_SD, "Every spread of the prior is a positive number.", "prior")
    facts = [_gather(course) for course in courses]
    runs = sum(fact.runs for fact in facts)
    actions = courses[0].actions
    inflate = _inflation(facts)
    h = sum((fact.h for fact in facts), np.zeros((OWN, OWN))) / inflate
    g = sum((fact.g for fact in facts), np.zeros(OWN)) / inflate
    joint = np.linalg.inv(h + np.diag(sds**-2.0))
    mean, spread = joint @ g, np.sqrt(np.diag(joint))
    evidence = mean_in_words([miss for course in courses for miss in course.misses], runs)

    def result(verdict: str, sentence: str, advice: str, findings: tuple = (), alternatives: tuple = ()) -> Diagnosis:
        corrected = tuple(
            corrected_actions(actions, {f.parameter: f.size for f in findings}, courses[0].scene.noise.yaw_reference)
        )
        return Diagnosis(
            verdict, sentence, evidence, advice, findings, alternatives, corrected,
            tuple(map(float, mean)), tuple(map(float, spread)), runs,
        )  # fmt: skip

    if runs < FEWEST_RUNS:
        more = FEWEST_RUNS - runs
        return result(
            "too_few",
            "Too few measured runs to tell.",
            f"Measure where {more} more {'run lands' if more == 1 else 'runs land'}.",
        )
    subsets: list[tuple[int, ...]] = [(k,) for k in range(OWN)]
    subsets += combinations(range(OWN), 2)
    weights = {subset: _weigh(h, g, sds, subset) for subset in subsets}
    singles = sorted(subsets[:OWN], key=lambda s: -weights[s])
    best: tuple[int, ...] = singles[0]
    if weights[best] < CLAIM:
        best = max(subsets[OWN:], key=lambda s: weights[s])
        if weights[best] < CLAIM + math.log(len(PARAMETERS)):
            return result(
                "no_pattern",
                "No pattern: the misses scatter as widely as this robot always does.",
                "Change no numbers yet. Set the robot down more exactly, or draw a course that lands more steadily.",
            )
    else:
        pair = max((s for s in subsets[OWN:] if best[0] in s), key=lambda s: weights[s])
        if weights[pair] - weights[best] >= CLAIM:
            best = pair
    findings = _findings(h, g, sds, best, weights[best])
    alternatives = tuple(
        _findings(h, g, sds, other, weights[other])[0]
        for other in singles
        if len(best) == 1 and other != best and weights[best] - weights[other] < ALIKE
    )
    sentence = " and ".join(f.sentence for f in findings)
    sentence = sentence[0].upper() + sentence[1:]
    if alternatives:
        sentence += "; or else " + ", or ".join(f.sentence for f in alternatives)
    return result("pattern", sentence + ".", advice_for(findings, alternatives), findings, alternatives)


@dataclass(frozen=True)
class _Facts:
    """Of one course: information matrix and vector, scatter about the mean and its degrees of freedom, usable runs."""

    h: Array
    g: Array
    scatter: float
    degrees: int
    runs: int


def _gather(course: Logged) -> _Facts:
    errors = landing_errors(course.scene, course.start, course.actions, told=course.told)
    to_deg = np.diag([1.0, 1.0, math.degrees(1.0)])
    aim = to_deg @ errors.mean
    noise = to_deg @ errors.covariance @ to_deg
    noise += np.diag(np.square(READING_SD))
    slope = parameter_jacobian(course.scene, course.start, course.actions, told=course.told)
    h, g = np.zeros((OWN, OWN)), np.zeros(OWN)
    rows: dict[tuple[int, ...], list[Array]] = {}
    for i, miss in enumerate(course.misses):
        values = (miss.along_mm, miss.lateral_mm, miss.heading_deg)
        seen = tuple(k for k, value in enumerate(values) if value is not None)
        if not seen:
            continue
        y = np.array([values[k] for k in seen], dtype=float)
        _sane(y, seen, i)
        inverse = np.linalg.inv(noise[np.ix_(seen, seen)])
        j = slope[list(seen)]
        rest = y - aim[list(seen)]
        h += j.T @ inverse @ j
        g += j.T @ inverse @ rest
        rows.setdefault(seen, []).append(rest)
    scatter, degrees = 0.0, 0
    for seen, rests in rows.items():
        inverse = np.linalg.inv(noise[np.ix_(seen, seen)])
        off = np.array(rests) - np.mean(rests, axis=0)
        scatter += float(np.einsum("ij,jk,ik->", off, inverse, off))
        degrees += (len(rests) - 1) * len(seen)
    return _Facts(h, g, scatter, degrees, sum(len(rests) for rests in rows.values()))


def _sane(values: Array, seen: tuple[int, ...], index: int) -> None:
    if not np.isfinite(values).all():
        raise FitError(
            MotionCode.NOT_FINITE, "A miss is not a number; correct it or leave it empty.", f"misses[{index}]"
        )
    limits = np.array([2000.0, 2000.0, 180.0])[list(seen)]
    if (np.abs(values) > limits).any():
        raise FitError(MotionCode.ABSURD, "A miss is over 2 m or half a turn; check its unit.", f"misses[{index}]")


def _inflation(facts: Sequence[_Facts]) -> float:
    """How much wider the runs scatter than the noise says, at least 1; their own scatter counts against the noise."""
    degrees = sum(fact.degrees for fact in facts)
    scatter = sum(fact.scatter for fact in facts)
    return max(1.0, scatter / degrees) if degrees else 1.0


def _posterior(h: Array, g: Array, sds: Array, subset: tuple[int, ...]) -> tuple[Array, Array]:
    chosen = list(subset)
    covariance: Array = np.asarray(np.linalg.inv(h[np.ix_(chosen, chosen)] + np.diag(sds[chosen] ** -2.0)))
    return covariance @ g[chosen], covariance


def _weigh(h: Array, g: Array, sds: Array, subset: tuple[int, ...]) -> float:
    """Logarithm of the Bayes factor of "only these are off" against "nothing is"."""
    chosen = list(subset)
    mean, covariance = _posterior(h, g, sds, subset)
    _, log_det = np.linalg.slogdet(covariance / np.outer(sds[chosen], sds[chosen]))
    return float(0.5 * g[chosen] @ mean + 0.5 * log_det)


def _findings(h: Array, g: Array, sds: Array, subset: tuple[int, ...], weight: float) -> tuple[Finding, ...]:
    mean, covariance = _posterior(h, g, sds, subset)
    found = []
    for k, size, variance in zip(subset, mean, np.diag(covariance), strict=True):
        name, unit = PARAMETERS[k]
        u = math.sqrt(float(variance))
        found.append(Finding(name, unit, float(size), u, words_for(name, float(size), u), weight))
    return tuple(sorted(found, key=lambda f: -abs(f.size) / f.uncertainty))
