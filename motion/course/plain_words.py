"""Motion's sentences as children and coaches read them: the club's unit, and "give or take" for the sign between two numbers."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from motion.course.actions import Touch
from motion.units import format_length


def plainly(sentence: str, unit: str) -> str:
    """ "3.1 ± 0.7 degrees" as "3.1 degrees (give or take 0.7)"; millimetres in the club's unit.

    >>> plainly("It turns 3.1 ± 0.7 degrees too far and stops 25 mm short.", "cm")
    'It turns 3.1 degrees (give or take 0.7) too far and stops 2.5 cm short.'
    """

    def spread(m: re.Match[str]) -> str:
        if m[3] == "mm":
            size, u = (format_length(float(number), unit) for number in (m[1], m[2]))
            return f"{size} (give or take {u})"
        return f"{m[1]} {m[3]} (give or take {m[2]})"

    plain = re.sub(r"([\d.]+) ± ([\d.]+) (mm|%|degrees a metre|degrees)", spread, sentence)
    plain = re.sub(r"\((-?\d+), (-?\d+)\)(?: mm)?", lambda m: f"({_say(m[1], unit)}, {_say(m[2], unit)})", plain)
    return plain if unit == "mm" else re.sub(r"\b(\d+(?:\.\d+)?) mm\b", lambda m: _say(m[1], unit), plain)


def touches_in(touches: Iterable[Touch], unit: str) -> list[Touch]:
    """The same touches with their words in the club's unit.

    >>> touches_in([], "cm")
    []
    """
    return [replace(touch, message=plainly(touch.message, unit)) for touch in touches]


def _say(mm: str, unit: str) -> str:
    return format_length(float(mm) + 0.0, unit)
