"""Motion's sentences as children and coaches read them: the club's unit, and "give or take" for the sign between two numbers."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from motion.course.actions import Touch
from motion.course.sentences import _, digits_of
from motion.units import format_length


def plainly(sentence: str, unit: str) -> str:
    """ "3.1 ± 0.7 degrees" as "3.1 degrees (give or take 0.7)"; millimetres in the club's unit.

    >>> plainly("It turns 3.1 ± 0.7 degrees too far and stops 25 mm short.", "cm")
    'It turns 3.1 degrees (give or take 0.7) too far and stops 2.5 cm short.'
    """

    plain = str(sentence)
    if "±" in plain:
        plain = re.sub(rf"({_NUMBER}) ± ({_NUMBER}) ({_units()})", lambda m: _spread(m, unit), plain)
    plain = re.sub(r"\((-?\d+), (-?\d+)\)(?: mm)?", lambda m: f"({_say(m[1], unit)}, {_say(m[2], unit)})", plain)
    return plain if unit == "mm" else re.sub(rf"\b({_NUMBER}) mm\b", lambda m: _say(m[1], unit), plain)


#: As it is said: with the decimal mark of the language.
_NUMBER = r"\d+(?:[.,]\d+)?"


def _units() -> str:
    """What follows a spread, the longer first."""
    return "|".join(["mm", "%", *(re.escape(str(unit)) for unit in (_("degrees a metre"), _("degrees")))])


def _spread(m: re.Match[str], unit: str) -> str:
    size, u = f"{m[1]} {m[3]}", m[2]
    if m[3] == "mm":
        size, u = _say(m[1], unit), _say(m[2], unit)
    return str(_("{size} (give or take {spread})", size=size, spread=u))


def touches_in(touches: Iterable[Touch], unit: str) -> list[Touch]:
    """The same touches with their words in the club's unit.

    >>> touches_in([], "cm")
    []
    """
    return [replace(touch, message=plainly(touch.message, unit)) for touch in touches]


def _say(mm: str, unit: str) -> str:
    return digits_of(format_length(float(mm.replace(",", ".")) + 0.0, unit))
