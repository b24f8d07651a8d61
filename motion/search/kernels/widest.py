"""The widest way over a map of cells, compiled."""

from __future__ import annotations

import heapq

import numpy as np

from motion.compiled import kernel


@kernel
def widest_way(room, ends, row, column):
    """The narrowest cell of the widest way from a cell to any of those in ``ends``.

    Of all ways over neighbouring cells (eight each) it is the one whose least ``room`` is largest. Returns the row and
    column of the cell with that least room; (-1, -1) when no way leads to an end.
    """
    rows, columns = room.shape
    widest = np.full((rows, columns), -1.0)
    narrow = np.zeros((rows, columns), np.int64)
    widest[row, column] = room[row, column]
    narrow[row, column] = row * columns + column
    heap = [(-room[row, column], row * columns + column)]
    while len(heap) > 0:
        minus, at = heapq.heappop(heap)
        r, c = at // columns, at % columns
        if -minus < widest[r, c]:
            continue
        if ends[r, c]:
            return narrow[r, c] // columns, narrow[r, c] % columns
        for i in range(max(r - 1, 0), min(r + 2, rows)):
            for j in range(max(c - 1, 0), min(c + 2, columns)):
                reach = min(-minus, room[i, j])
                if reach > widest[i, j]:
                    widest[i, j] = reach
                    narrow[i, j] = i * columns + j if room[i, j] < -minus else narrow[r, c]
                    heapq.heappush(heap, (-reach, i * columns + j))
    return -1, -1
