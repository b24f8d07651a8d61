"""Numbers in words, in the language of the page: motion.units rounds, this puts the language's own decimal mark."""

from __future__ import annotations

from django.utils.formats import get_format

from motion.units import figure, format_length


def in_own_digits(number: str) -> str:
    """A number as motion writes it, such as ``4.1`` or ``4.1 cm``, with the decimal mark of the page's language."""
    mark = str(get_format("DECIMAL_SEPARATOR"))
    return number if mark == "." else number.replace(".", mark)


def figure_said(value: float, decimals: int = 0, *, sign: bool = False) -> str:
    return in_own_digits(figure(value, decimals, sign=sign))


def length_said(mm: float, unit: str) -> str:
    return in_own_digits(format_length(mm, unit))
