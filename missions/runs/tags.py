"""A run's misses in words, so that nobody has to trust a sign."""

from __future__ import annotations

from django import template

from missions.runs.rules.side_words import side_in_words

register = template.Library()


def _signed(value_mm: float | None, unit: str, over: str, under: str) -> str:
    if value_mm is None:
        return "–"
    if abs(value_mm) < 0.5:
        return "0"
    return side_in_words(over if value_mm > 0 else under, abs(value_mm), unit)


@register.filter
def sideways(value_mm: float | None, unit: str) -> str:
    """ "4 cm left"."""
    return _signed(value_mm, unit, "left", "right")


@register.filter
def too_far(value_mm: float | None, unit: str) -> str:
    """ "2 cm short"."""
    return _signed(value_mm, unit, "too far", "short")
