"""Parts of pages that are remembered by the values that they are made of, in each process for itself."""

from __future__ import annotations

import hashlib
from collections.abc import Callable

from django.core.cache import caches
from django.utils.safestring import SafeString, mark_safe
from django.utils.timezone import get_current_timezone_name
from django.utils.translation import get_language

KEPT_S = 3600


def kept_markup(kind: str, make: Callable[[], str], *values: object) -> SafeString:
    """What ``make`` makes, which hangs on ``values``, the page's language and its time zone alone and is safe to stand in a page.

    ``values`` are plain: their ``repr`` tells them apart.
    """
    told = repr((get_language(), get_current_timezone_name(), values))
    key = f"{kind.replace('/', '.')}:{hashlib.sha256(told.encode()).hexdigest()}"
    text: str | None = caches["parts"].get(key)
    if text is None:
        text = make()
        caches["parts"].set(key, str(text), KEPT_S)
    return mark_safe(text)
