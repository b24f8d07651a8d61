"""Where a robot met its target, in the words of the pad."""

from __future__ import annotations

from django.utils.translation import gettext as _

from classroom.site.figures import length_said


def sideways_in_words(left_mm: float, unit: str) -> str:
    """
    >>> sideways_in_words(0.0, "cm"), sideways_in_words(-40.0, "cm")
    ('in the middle', '4 cm to the right')
    """
    if not left_mm:
        return _("in the middle")
    words = _("{size} to the left") if left_mm > 0 else _("{size} to the right")
    return words.format(size=length_said(abs(left_mm), unit))


def along_in_words(far_mm: float, unit: str) -> str:
    """
    >>> along_in_words(-20.0, "cm")
    '2 cm too short'
    """
    words = _("{size} too far") if far_mm > 0 else _("{size} too short")
    return words.format(size=length_said(abs(far_mm), unit))
