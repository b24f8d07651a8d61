"""A run's misses in words, so that nobody has to trust a sign."""

from __future__ import annotations

from django import template

from motion.units import format_length

register = template.Library()


def _signed(value_mm: float | None, unit: str, over: str, under: str) -> str:
    if value_mm is None:
        return "–"
    if abs(value_mm) < 0.5:
        return "0"
    return f"{format_length(abs(value_mm), unit)} {over if value_mm > 0 else under}"


@register.filter
def sideways(value_mm: float | None, unit: str) -> str:
    """ "4 cm left"."""
    return _signed(value_mm, unit, "left", "right")


@register.filter
def too_far(value_mm: float | None, unit: str) -> str:
    """ "2 cm short"."""
    return _signed(value_mm, unit, "too far", "short")
