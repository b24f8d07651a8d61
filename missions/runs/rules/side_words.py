"""To which side of the mark, and by how much: the same words wherever a miss is told."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.site.figures import length_said

#: By the side as ``runs_say.Side`` has it.
_WORDS = {
    "left": gettext_noop("%(size)s left"),
    "right": gettext_noop("%(size)s right"),
    "too far": gettext_noop("%(size)s too far"),
    "short": gettext_noop("%(size)s short"),
}


def side_in_words(way: str, mm: float, unit: str) -> str:
    """
    >>> side_in_words("left", 42.0, "cm")
    '4.2 cm left'
    """
    return _(_WORDS[way]) % {"size": length_said(mm, unit)}
