"""Several words in a row, as the page's language puts them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

from django.utils.translation import gettext as _


def listed(words: Sequence[str]) -> str:
    """
    >>> listed(["1"]), listed(["1", "2"]), listed(["1", "3", "8"])
    ('1', '1 and 2', '1, 3 and 8')
    """
    *some, last = map(str, words)
    return _both(", ".join(some), last) if some else last


def strung(words: Sequence[str]) -> str:
    """Names that may have a comma themselves.

    >>> strung(["gate"]), strung(["gate", "bell", "crate"])
    ('gate', 'gate and bell and crate')
    """
    return reduce(_both, map(str, words))


def _both(one: str, other: str) -> str:
    return _("%(one)s and %(other)s") % {"one": one, "other": other}
