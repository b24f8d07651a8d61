"""Why do the runs miss? From logged misses to the one cause that explains them, or none.

Every miss is linear in the causes through the course's Jacobian, with the robot's own run-to-run noise on top. Each
single cause (and, if one leaves too much unexplained, each pair) is weighed against "no cause" by its Bayes factor, its
size having a normal prior about zero, and whichever few runs may have been slips. What a cause must outweigh grows with
the number of causes that are looked for. Under no cause a Bayes factor over k has a chance of at most 1/k (Markov's
inequality); how rare false claims really are is measured by ``honest.diagnosis_false`` in ``benchmarks``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from motion.calibration.diagnosis_causes import CAUSES, TARGET, Prior, Run, causes_for, runs_of
from motion.calibration.diagnosis_sentences import Explained, tell
from motion.calibration.diagnosis_weights import RunScatter, Weights, posterior, scatter_of, weigh
from motion.calibration.diagnosis_words import corrected_actions, words_for
from motion.chance.error import OWN
from motion.chance.least_squares import Array
from motion.chance.logged import Logged
from motion.course.actions import Action
from motion.course.sentences import _
from motion.errors import FitError, MotionCode

FEWEST_RUNS = 3
#: A cause is claimed when its Bayes factor is so many times the number of causes looked for. Set by simulation: a robot
#: that is only noisy, by up to 1.6 times what its noise says, gives a false cause in at most 3 sets of 100
#: (``tests/motion/calibration/test_diagnosis.py``).
CLAIM = 6.0
#: Another cause within this Bayes factor of the best cannot be told apart from it.
ALIKE = math.log(10.0)
#: A run is named as one that stands out when it slipped with this probability.
SURE = 0.9


@dataclass(frozen=True)
class Finding:
    """One thing that is off: its size, standard uncertainty and sentence; ``weight`` is its log Bayes factor.

    ``parameter`` is a name of ``diagnosis_causes.CAUSES``.
    """

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
        ``"too_few"``, ``"no_pattern"`` (runs may stand out, the others have nothing in common) or ``"pattern"``.
    sentence, evidence, advice
        In words: what, on what it rests, what to try.
    findings
        One or two causes when there is a pattern, the surest first.
    alternatives
        Other single causes that these runs cannot tell apart from the first.
    corrected
        The first course's actions with corrected numbers; the same actions when there is nothing to correct in them.
    posterior_mean, posterior_sd
        All parameters of ``error.PARAMETERS`` jointly, in their units, without the slips.
    runs
        How many usable runs, slips among them.
    slips
        Runs that stand out and are set aside: (index of the course, index of the miss) in the order given.
    wider
        The runs that are left scatter wider than the robot's noise says (chi-squared at 1 %).
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
    slips: tuple[tuple[int, int], ...] = ()
    wider: bool = False


def diagnose(
    courses: Sequence[Logged], prior: Prior | None = None, *, in_time: Sequence[tuple[int, int]] | None = None
) -> Diagnosis:
    """Diagnose the misses of one robot's courses; different courses tell causes apart.

    Parameters
    ----------
    courses
        Each as it was run, with its scene (robot and noise) and the runs that reached the target.
    prior
        How large departures usually are.
    in_time
        (index of the course, index of the miss) of every run, the earliest first. Without it no trend is looked for, and
        runs are called by their number in the order given.

    Raises
    ------
    FitError
        ``too_few``, ``not_finite``, ``bad_sd``, ``shape``, ``absurd`` (a miss over 2 m or 180 degrees); MotionError for a
        course that cannot land.

    Examples
    --------
    Four runs of a course that ends a metre ahead, each some 40 mm too far.

    >>> from motion.chance.logged import Miss
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, misses = example_scene(), tuple(Miss(along_mm=far) for far in (40, 41, 39, 40))
    >>> found = diagnose([Logged(scene, scene.start, example_course(), misses)])
    >>> found.evidence
    'Rests on 4 runs: on average 40 mm too far.'
    >>> found.sentence
    'Distances come out 4.0 ± 0.3 % too long; or else the target stands 39 ± 3 mm nearer than the plan has it.'

    One of them went astray.

    >>> misses = tuple(Miss(along_mm=far) for far in (40, 41, -250, 39, 40))
    >>> found = diagnose([Logged(scene, scene.start, example_course(), misses)])
    >>> found.slips, found.findings[0].parameter
    (((0, 2),), 'distance_scale')
    """
    if not courses:
        raise FitError(MotionCode.TOO_FEW, _("There is no course to look at; log runs of a course first."))
    sds = (prior or Prior()).sds()
    runs = runs_of(courses, in_time)
    if len(runs) < FEWEST_RUNS:
        return _result(courses, sds, _Found(runs))
    known = causes_for(runs)
    weights = weigh(runs, sds, known)
    causes = _claimed(weights, known)
    slips = weights.slipped(causes, SURE)
    kept = [run for k, run in enumerate(runs) if k not in slips]
    alike: list[tuple[int, ...]] = []
    if causes in (simple := _simple(known)):
        others = sorted((s for s in simple if not set(s) & set(causes)), key=lambda s: -weights.of(s))
        alike = [s for s in others if weights.of(causes) - weights.of(s) < ALIKE]
    return _result(courses, sds, _Found(runs, kept, causes, alike, weights))


@dataclass(frozen=True)
class _Found:
    """What was chosen: the runs that are not slips, the causes, and single causes that look alike."""

    runs: list[Run]
    kept: list[Run] | None = None
    causes: tuple[int, ...] = ()
    alike: Sequence[tuple[int, ...]] = ()
    weights: Weights | None = None


def _simple(known: Sequence[int]) -> list[tuple[int, ...]]:
    """What may be off by itself: each single cause, and where the target stands."""
    return [*((k,) for k in known), (TARGET, TARGET + 1)]


def _claimed(weights: Weights, known: Sequence[int]) -> tuple[int, ...]:
    """The cause, or the two, that outweigh "none" by enough; nothing when none does."""
    simple = _simple(known)
    claim = math.log(CLAIM * len(simple))
    best = max(simple, key=weights.of)
    pairs = [s for s in weights.causes if len(s) == 2]
    if weights.of(best) < claim:
        pair = max(pairs, key=weights.of)
        return pair if weights.of(pair) >= claim + math.log(len(simple)) else ()
    if len(best) == 2:
        return best
    pair = max((s for s in pairs if best[0] in s), key=weights.of)
    return pair if weights.of(pair) - weights.of(best) >= claim else best


def _result(courses: Sequence[Logged], sds: Array, found: _Found) -> Diagnosis:
    kept = found.runs if found.kept is None else found.kept
    raw = [np.linalg.inv(run.noise) for run in kept]
    h = sum((r.slope.T @ i @ r.slope for r, i in zip(kept, raw, strict=True)), np.zeros((len(CAUSES),) * 2))
    g = sum((r.slope.T @ i @ r.rest for r, i in zip(kept, raw, strict=True)), np.zeros(len(CAUSES)))
    # A trend is no scatter: what the causes explain is taken out first.
    scatter = scatter_of(kept, found.causes, posterior(h, g, sds, found.causes)[0].tolist())
    h, g = h / scatter.inflation, g / scatter.inflation
    mean, covariance = posterior(h, g, sds, range(OWN))
    findings = _findings(h, g, sds, found.causes, found.weights)
    listed = {f.parameter: f for f in (_findings(h, g, sds, s, found.weights)[0] for s in reversed(found.alike))}
    alternatives = tuple(reversed(listed.values()))
    off = RunScatter(
        sum(float(r.rest @ i @ r.rest) for r, i in zip(kept, raw, strict=True)), sum(len(r.seen) for r in kept)
    )
    slips = [run for run in found.runs if run not in kept]
    misses = [courses[c].misses[m] for c, m in (run.place for run in kept)]
    enough = len(found.runs) >= FEWEST_RUNS
    verdict = "too_few" if not enough else "pattern" if findings else "no_pattern"
    outliers = [_stands_out(run, kept) for run in slips]
    words = tell(
        Explained(verdict, len(found.runs), misses, outliers, findings, alternatives, scatter.wider, off.wider)
    )
    first = courses[0]
    corrected = corrected_actions(
        first.actions, {f.parameter: f.size for f in findings}, first.scene.noise.yaw_reference
    )
    return Diagnosis(
        verdict, words.sentence, words.evidence, words.advice, findings, alternatives, tuple(corrected),
        tuple(map(float, mean)), tuple(map(float, np.sqrt(np.diag(covariance)))), len(found.runs),
        tuple(run.place for run in slips), enough and scatter.wider,
    )  # fmt: skip


def _stands_out(run: Run, kept: Sequence[Run]) -> tuple[int, int, float]:
    """A run's number, in what it is off the most for this robot (along, lateral or heading), and by how much.

    Off the mean of the other runs of its course; off what was expected of it when there are none.
    """
    others = [r.rest for r in kept if r.place[0] == run.place[0] and r.seen == run.seen]
    off = run.rest - (np.mean(others, axis=0) if others else 0.0)
    k = int(np.argmax(np.abs(off) / np.sqrt(np.diag(run.noise))))
    return run.number, run.seen[k], float(off[k])


def _findings(h: Array, g: Array, sds: Array, causes: tuple[int, ...], weights: Weights | None) -> tuple[Finding, ...]:
    if not causes or weights is None:
        return ()
    mean, covariance = posterior(h, g, sds, causes)
    found = []
    for k, size, variance in zip(causes, mean, np.diag(covariance), strict=True):
        name, unit = CAUSES[k]
        u = math.sqrt(float(variance))
        found.append(Finding(name, unit, float(size), u, words_for(name, float(size), u), weights.of(causes)))
    return tuple(sorted(found, key=lambda f: -abs(f.size) / f.uncertainty))
