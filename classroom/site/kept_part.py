"""Parts of pages that are remembered by the values that they are made of, in each process for itself."""

from __future__ import annotations

import hashlib
from collections.abc import Callable

from django.core.cache import caches
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language

KEPT_S = 3600


def kept_markup(kind: str, make: Callable[[], str], *values: object) -> SafeString:
    """What ``make`` makes, which hangs on ``values`` and the page's language alone and is safe to stand in a page."""
    key = f"{kind.replace('/', '.')}:{hashlib.sha256(repr((get_language(), values)).encode()).hexdigest()}"
    text: str | None = caches["parts"].get(key)
    if text is None:
        text = make()
        caches["parts"].set(key, str(text), KEPT_S)
    return mark_safe(text)
