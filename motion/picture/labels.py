"""Where words go on the map so that they cover neither each other nor what they name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from motion.scene.records import Point

LETTER_WIDTH = 0.56  # of the font size, for a sans-serif face; measured on the site's own


@dataclass(frozen=True)
class LabelBox:
    left: float
    bottom: float
    right: float
    top: float

    def overlaps(self, others: Iterable[LabelBox]) -> float:
        """With all of them together. A map asks it some thousand times: none but those that meet cost more than a look."""
        left, bottom, right, top = self.left, self.bottom, self.right, self.top
        return sum(
            (
                self.overlap(other)
                for other in others
                if other.left < right and other.right > left and other.bottom < top and other.top > bottom
            ),
            0.0,
        )

    def overlap(self, other: LabelBox) -> float:
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.top, other.top) - max(self.bottom, other.bottom)
        return wide * high if wide > 0 and high > 0 else 0.0

    def outside(self, other: LabelBox) -> float:
        """Area of this box that lies outside of the other."""
        return (self.right - self.left) * (self.top - self.bottom) - self.overlap(other)


@dataclass
class Labels:
    """Places labels one after another; ``taken`` grows with each."""

    sheet: LabelBox
    size: float
    taken: list[LabelBox] = field(default_factory=list)

    def block(self, x: float, y: float, radius: float) -> None:
        """Keep a spot free of words."""
        self.taken.append(LabelBox(x - radius, y - radius, x + radius, y + radius))

    def block_line(self, a: Point, b: Point, radius: float) -> None:
        length = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5
        steps = max(1, round(length / (2 * radius)))
        for k in range(steps + 1):
            self.block(a[0] + (b[0] - a[0]) * k / steps, a[1] + (b[1] - a[1]) * k / steps, radius)

    def place(self, words: str, around: LabelBox) -> tuple[float, float]:
        """Middle of the baseline for ``words`` naming what lies in ``around``: inside it, else beside it."""
        half = LETTER_WIDTH * self.size * len(words) / 2
        best: tuple[float, LabelBox] | None = None
        for rank, (x, y) in enumerate(self._spots(around, half)):
            if 2 * half <= self.sheet.right - self.sheet.left:  # a long name is moved along until it hangs over no edge
                x = min(max(x, self.sheet.left + half), self.sheet.right - half)
            box = LabelBox(x - half, y - 0.3 * self.size, x + half, y + 0.85 * self.size)
            cost = box.overlaps(self.taken) + 4 * box.outside(self.sheet) + rank
            if rank:  # one that was moved along may have come to lie on what it names
                cost += box.overlap(around)
            if rank == 0 and (2 * half > around.right - around.left or self.size > around.top - around.bottom):
                cost += self.size * self.size  # words across a thing too small for them hide it
            if best is None or cost < best[0]:
                best = (cost, box)
        assert best is not None
        self.taken.append(best[1])
        return (best[1].left + best[1].right) / 2, best[1].bottom + 0.3 * self.size

    def _spots(self, around: LabelBox, half: float) -> Iterable[Point]:
        x, y = (around.left + around.right) / 2, (around.bottom + around.top) / 2
        gap = 0.5 * self.size
        yield x, y - 0.3 * self.size
        yield x, around.top + gap
        yield x, around.bottom - gap - 0.7 * self.size
        yield around.right + gap + half, y - 0.3 * self.size
        yield around.left - gap - half, y - 0.3 * self.size
        for dx in (-1, 1):
            yield x + dx * (half + gap), around.top + gap
            yield x + dx * (half + gap), around.bottom - gap - 0.7 * self.size
