"""A scale in words: how far a robot goes or turns of what it is told."""

from __future__ import annotations

from django.utils.translation import gettext as _

from classroom.site.figures import in_own_digits
from motion.units import figure


def off_in_percent(scale: float) -> str:
    off = (scale - 1) * 100
    size = figure(abs(off), 1)
    if size == "0.0":
        return _("just what it is told")
    said = _("%(size)s %% too far") if off > 0 else _("%(size)s %% too little")
    return said % {"size": in_own_digits(size)}
