"""Which finished courses of the graph search are worth refining: those that differ, compiled."""

from __future__ import annotations

import numpy as np
from numba import njit

from motion.search.kernels.task import wrapped

#: Courses whose turning points all lie nearer and whose last legs point nearer than this are one and the same.
APART_MM, APART_RAD = 110.0, 0.4


@njit(cache=True)
def different_courses(count, costs, legs, points, directions, headings, most):
    """Indices of finished courses that differ: another number of legs or directions, or points far apart."""
    chosen = np.empty(most, dtype=np.int64)
    taken = 0
    for i in range(count):
        repeats = False
        for c in range(taken):
            j = chosen[c]
            if legs[i] != legs[j] or abs(wrapped(headings[i] - headings[j])) >= APART_RAD:
                continue
            repeats = True
            for k in range(legs[i]):
                apart = max(abs(points[i, k, 0] - points[j, k, 0]), abs(points[i, k, 1] - points[j, k, 1]))
                if directions[i, k] != directions[j, k] or (k < legs[i] - 1 and apart >= APART_MM):
                    repeats = False
            if repeats:
                break
        if not repeats:
            chosen[taken] = i
            taken += 1
            if taken == most:
                break
    return chosen[:taken]
