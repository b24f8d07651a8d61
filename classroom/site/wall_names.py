"""Names on a wall: a word is never broken, so the longest one decides how a wall is laid out."""

from __future__ import annotations

from collections.abc import Iterable


def letters_of_longest_word(names: Iterable[str]) -> int:
    """How many letters the longest word of these names has; 0 of none."""
    return max((len(word) for name in names for word in name.split()), default=0)
