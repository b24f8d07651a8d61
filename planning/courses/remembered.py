"""What is worked out of plain facts is remembered by them: in the process that asked, and for the others beside it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from typing import TypeVar

from django.core.cache import cache, caches

T = TypeVar("T")
KEPT_S = 3600


def key_of(kind: str, facts: str) -> str:
    return f"{kind}:{hashlib.sha256(facts.encode()).hexdigest()}"


def remembered(key: str, make: Callable[[], T]) -> T:
    """``key`` names all that ``make`` depends on, so what a process has is never out of date, and asks nobody for it."""
    kept: T | None = caches["here"].get(key)
    if kept is None:
        kept = cache.get(key)
        if kept is None:
            kept = make()
            cache.set(key, kept, KEPT_S)
        caches["here"].set(key, kept, KEPT_S)
    return kept


def fetch_remembered(keys: Iterable[str]) -> None:
    """So that ``remembered`` asks once for many: what others have worked out is brought here."""
    wanted = list(keys)
    here = caches["here"].get_many(wanted)
    missing = [key for key in wanted if key not in here]
    if missing:
        caches["here"].set_many(cache.get_many(missing), KEPT_S)
