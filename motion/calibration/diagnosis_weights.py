"""How well each cause explains a row of misses, with or without runs that are slips.

A run is either one of the robot's own, shifted by the causes, or a slip that may have ended anywhere near. The robot may
scatter more than its noise says, by a factor that is not known. Every cause (or pair, or none) is weighed together with
every small set of slips by its evidence: the probability of the misses, its size and that factor averaged out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np
from scipy import special

from motion.calibration.diagnosis_causes import Run
from motion.chance.least_squares import Array

#: A slip lands this wide (SD): along and lateral in mm, heading in degrees. Common practice, no source.
SLIP_SD = (200.0, 200.0, 20.0)
#: One run in so many slips, and no more than one in so many is set aside. Common practice, no source.
SLIP_ODDS = math.log(1.0 / 20.0)
RUNS_FOR_A_SLIP = 4
#: By how much a robot may scatter more widely than its noise says (of the SD), each half as likely as the one before.
WIDER = np.array([1.0, 1.25, 1.6, 2.0, 2.5, 3.2, 4.0])
#: Sets of slips that are followed up with one slip more.
FOLLOWED = 20


@dataclass(frozen=True)
class Weights:
    """Log evidence of every set of slips (rows) with every set of causes (columns); the first of each is the empty set."""

    slips: list[tuple[int, ...]]
    causes: list[tuple[int, ...]]
    table: Array

    def of(self, causes: tuple[int, ...]) -> float:
        """Log Bayes factor of "these causes" against "none", whatever slipped."""
        return self._against_none[causes]

    @cached_property
    def _against_none(self) -> dict[tuple[int, ...], float]:
        whole = special.logsumexp(self.table, axis=0)
        return dict(zip(self.causes, (whole - whole[0]).tolist(), strict=True))

    def slipped(self, causes: tuple[int, ...], sure: float) -> tuple[int, ...]:
        """The runs that slipped with at least this probability, if these are the causes."""
        column = self.table[:, self.causes.index(causes)]
        chance = np.exp(column - special.logsumexp(column))
        each: dict[int, float] = {}
        for runs, p in zip(self.slips, chance, strict=True):
            for run in runs:
                each[run] = each.get(run, 0.0) + float(p)
        return tuple(sorted(run for run, p in each.items() if p >= sure))


def weigh(runs: Sequence[Run], sds: Array, causes: Sequence[int]) -> Weights:
    """Weigh no cause, each single one and each pair of them, with none or some of the runs set aside as slips.

    Examples
    --------
    Three runs that end 40 mm too far: a cause is worth far more than none.

    >>> far = [Run((0, k), k + 1, (0,), np.array([40.0]), np.eye(1) * 25, np.ones((1, 2))) for k in range(3)]
    >>> found = weigh(far, np.array([20.0, 2.0]), [0, 1])
    >>> found.of((0,)) > 3 and found.of((0,)) > found.of((1,))
    True
    """
    sets = [(), *((k,) for k in causes), *combinations(causes, 2)]
    model = _Model(runs, sds, sets)
    slips: list[tuple[int, ...]] = [()]
    tables = [model.evidence(slips)]
    level = slips
    for _ in range(len(runs) // RUNS_FOR_A_SLIP):
        best = np.argsort(-tables[-1].max(axis=1), kind="stable")[:FOLLOWED]
        level = sorted({tuple(sorted({*level[b], k})) for b in best for k in range(len(runs)) if k not in level[b]})
        slips = slips + level
        tables.append(model.evidence(level))
    return Weights(slips, sets, np.concatenate(tables))


class _Model:
    def __init__(self, runs: Sequence[Run], sds: Array, sets: Sequence[tuple[int, ...]]):
        inverse = [np.linalg.inv(run.noise) for run in runs]
        size = len(sds)
        self.h = np.array([run.slope.T @ i @ run.slope for run, i in zip(runs, inverse, strict=True)])
        self.g = np.array([run.slope.T @ i @ run.rest for run, i in zip(runs, inverse, strict=True)])
        self.h, self.g = self.h.reshape(-1, size, size), self.g.reshape(-1, size)
        self.sds = sds
        self.singles = [s[0] for s in sets if len(s) == 1]
        self.pairs = np.array([s for s in sets if len(s) == 2], dtype=int).reshape(-1, 2)
        own = np.array([_log_densities(run.rest, _widened(run)) for run in runs])
        far = np.diag(np.square(SLIP_SD))
        slip = np.array([_log_densities(run.rest, _widened(run) + far[np.ix_(run.seen, run.seen)]) for run in runs])
        self.base = own.reshape(-1, len(WIDER)).sum(axis=0)
        self.slip = (slip - own).reshape(-1, len(WIDER)) + SLIP_ODDS

    def evidence(self, slips: Sequence[tuple[int, ...]]) -> Array:
        """(sets of slips, sets of causes)."""
        out = np.zeros((len(slips), len(self.h)))
        for row, runs in enumerate(slips):
            out[row, list(runs)] = 1.0
        h = self.h.sum(axis=0) - np.einsum("sr,rij->sij", out, self.h)
        g = self.g.sum(axis=0) - out @ self.g
        rarely = np.log(0.5) * np.arange(len(WIDER))
        apart = self.base + out @ self.slip + rarely - special.logsumexp(rarely)
        each = [apart[:, k, None] + self._gain(h / w**2, g / w**2) for k, w in enumerate(WIDER)]
        return np.asarray(special.logsumexp(np.array(each), axis=0))

    def _gain(self, h: Array, g: Array) -> Array:
        """Log Bayes factor of each set of causes against none: 1/2 g' V g + 1/2 log |V| / |prior|, V = (h + prior^-1)^-1."""
        k = self.singles
        known = h[:, k, k] + self.sds[k] ** -2.0
        single = 0.5 * g[:, k] ** 2 / known - 0.5 * np.log(known * self.sds[k] ** 2)
        a, b = self.pairs.T
        va, vb, both = h[:, a, a] + self.sds[a] ** -2.0, h[:, b, b] + self.sds[b] ** -2.0, h[:, a, b]
        det = va * vb - both**2
        square = g[:, a] ** 2 * vb + g[:, b] ** 2 * va - 2.0 * g[:, a] * g[:, b] * both
        pair = 0.5 * square / det - 0.5 * np.log(det * (self.sds[a] * self.sds[b]) ** 2)
        return np.concatenate([np.zeros((len(h), 1)), single, pair], axis=1)


def _widened(run: Run) -> Array:
    """Its noise for each of ``WIDER``, shape (k, d, d)."""
    return np.asarray(np.square(WIDER)[:, None, None] * run.noise)


def _log_densities(rest: Array, covariances: Array) -> Array:
    """Of normal distributions about zero with each of these covariances (k, d, d)."""
    _, log_det = np.linalg.slogdet(2.0 * math.pi * covariances)
    square = np.einsum("i,kij,j->k", rest, np.linalg.inv(covariances), rest)
    return np.asarray(-0.5 * (square + log_det))


def posterior(h: Array, g: Array, sds: Array, chosen: Sequence[int]) -> tuple[Array, Array]:
    """Mean and covariance of the chosen causes' sizes, from information and prior.

    >>> mean, covariance = posterior(np.eye(2) * 3.0, np.array([4.0, 0.0]), np.ones(2), [0])
    >>> mean.tolist(), covariance.tolist()
    ([1.0], [[0.25]])
    """
    rows = list(chosen)
    covariance: Array = np.asarray(np.linalg.inv(h[np.ix_(rows, rows)] + np.diag(sds[rows] ** -2.0)))
    return covariance @ g[rows], covariance


@dataclass(frozen=True)
class RunScatter:
    """How widely runs of one course scatter about their mean: a chi-squared if the noise is right, and its degrees."""

    square: float
    degrees: int

    @property
    def inflation(self) -> float:
        """By how much the variance is more than the noise says, at least 1."""
        return max(1.0, self.square / self.degrees) if self.degrees else 1.0

    @property
    def wider(self) -> bool:
        """Wider than the noise says, at 1 %.

        >>> RunScatter(20.0, 8).wider, RunScatter(21.0, 8).wider
        (False, True)
        """
        return self.degrees > 0 and float(special.gammaincc(self.degrees / 2.0, self.square / 2.0)) < 0.01


def scatter_of(runs: Sequence[Run], causes: Sequence[int] = (), sizes: Sequence[float] = ()) -> RunScatter:
    """Scatter about the mean of the runs of a course that saw the same things, the effect of these causes taken out.

    >>> twice = [Run((0, k), k + 1, (0,), np.array([y]), np.eye(1), np.zeros((1, 1))) for k, y in enumerate((1.0, 3.0))]
    >>> scatter_of(twice)
    RunScatter(square=2.0, degrees=1)
    """
    groups: dict[tuple[int, tuple[int, ...]], list[Run]] = {}
    for run in runs:
        groups.setdefault((run.place[0], run.seen), []).append(run)
    square, degrees = 0.0, 0
    for (_, seen), group in groups.items():
        rests = np.array([run.rest - run.slope[:, list(causes)] @ np.array(sizes) for run in group])
        off = rests - rests.mean(axis=0)
        square += float(np.einsum("ij,jk,ik->", off, np.linalg.inv(group[0].noise), off))
        degrees += (len(group) - 1) * len(seen)
    return RunScatter(square, degrees)
