"""Positions of the search's graph and the headings at which the body may stand there, compiled.

Headings come as arcs: from ``lo`` (0 to 2 pi) counter-clockwise to ``hi``. A turn is possible when it stays on one arc.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from motion.compiled import inner, kernel
from motion.ground.kernels import TWO_PI, free_arcs, full_circle
from motion.search.kernels.task import SAME_HEADING, wrapped

MAX_ARCS = 48
MAX_CONTACTS = 16384


class Graph(NamedTuple):
    """Positions (N, 2), the start first and then the goal if the task ends at a pose, with their free arcs.

    ``arcs`` (N,) how many each has; ``lo``, ``hi`` (N, :data:`MAX_ARCS`) their ends; ``first`` (F,) indices of the
    positions on the line back off the target, for a task that is backing.
    """

    nodes: np.ndarray
    arcs: np.ndarray
    lo: np.ndarray
    hi: np.ndarray
    first: np.ndarray


@kernel
def node_arcs(walls, body, nodes):
    """Free heading arcs of every position: counts (N,), lo and hi (N, MAX_ARCS). A count of -1 is an overflow."""
    n = nodes.shape[0]
    count = np.zeros(n, np.int64)
    lo = np.zeros((n, MAX_ARCS))
    hi = np.zeros((n, MAX_ARCS))
    work = np.zeros(MAX_CONTACTS)
    for i in range(n):
        count[i] = free_arcs(walls, body, nodes[i, 0], nodes[i, 1], work, lo[i], hi[i])
    return count, lo, hi


@inner
def arc_turn(graph, p, start, end):
    """The turn at p from one heading to another that stays on one free arc; nan when there is none."""
    if abs(wrapped(end - start)) < SAME_HEADING:
        return 0.0
    for k in range(graph.arcs[p]):
        width = graph.hi[p, k] - graph.lo[p, k]
        if graph.arcs[p] == 1 and graph.lo[p, k] == 0.0 and width >= TWO_PI:
            return wrapped(end - start)
        a = full_circle(start - graph.lo[p, k])
        if a > width:
            continue
        b = full_circle(end - graph.lo[p, k])
        if b <= width:
            return b - a
        return math.nan
    return math.nan


@inner
def arc_at(graph, p, heading):
    """Index of the free arc at p that holds a heading and how far along it that lies; (-1, 0) when none does."""
    for k in range(graph.arcs[p]):
        off = full_circle(heading - graph.lo[p, k])
        if off <= graph.hi[p, k] - graph.lo[p, k]:
            return k, off
    return -1, 0.0


@inner
def whole_circle(graph, p, arc):
    """Whether an arc at p is the whole circle."""
    return graph.hi[p, arc] - graph.lo[p, arc] >= TWO_PI and graph.arcs[p] == 1 and graph.lo[p, arc] == 0.0


@inner
def turn_on_arc(whole, off, to):
    """The turn between two places on one arc; the short way when the arc is the whole circle."""
    by = to - off
    if abs(by) < SAME_HEADING or abs(abs(by) - TWO_PI) < SAME_HEADING:
        return 0.0
    return wrapped(by) if whole else by
