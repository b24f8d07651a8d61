"""Names from right to left within a sentence from left to right, and the other way."""

from __future__ import annotations

import unicodedata

#: First strong isolate and its end (Unicode Standard Annex 9, 2.4.2 and 2.4.3).
_BEGIN, _END = "\u2068", "\u2069"


def isolated(name: object) -> str:
    """A name that keeps its own direction and leaves that of the sentence around it alone; others as they are.

    >>> isolated("Robin"), isolated("נעמי") == "\\u2068נעמי\\u2069"
    ('Robin', True)
    """
    text = str(name)
    return f"{_BEGIN}{text}{_END}" if any(unicodedata.bidirectional(sign) in ("R", "AL") for sign in text) else text
