"""Numbers and times as the club reads them. One line each over motion.units; no rules here."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import template
from django.utils import timezone

from classroom.site.qr import qr_svg
from motion.course.plain_words import plainly
from motion.units import figure, format_length, whole_number

register = template.Library()


@register.filter
def in_unit(value_mm: float | None, unit: str = "cm") -> str:
    """A length in the club's unit: ``{{ gap_mm|in_unit:club.unit }}``."""
    return "–" if value_mm is None else format_length(value_mm, unit)


@register.filter
def in_unit_words(sentence: str, unit: str = "cm") -> str:
    """Motion's sentence with its lengths in the club's unit: ``{{ job.error_words|in_unit_words:club.unit }}``."""
    return plainly(sentence, unit)


@register.filter
def degrees(value: float | None, digits: int = 0) -> str:
    return "–" if value is None else f"{figure(value, digits)}°"


@register.filter
def seconds(value: float | None) -> str:
    """A duration as a stopwatch shows it: 41.2 s, 1:12.4."""
    if value is None:
        return "–"
    minutes, tenths = divmod(whole_number(value * 10), 600)
    return f"{minutes}:{tenths // 10:02}.{tenths % 10}" if minutes else f"{figure(value, 1)} s"


@register.filter
def ago(moment: dt.datetime | None) -> str:
    """How long since, in a coach's words: today, yesterday, 3 weeks ago."""
    if moment is None:
        return "never"
    days = (timezone.localdate() - timezone.localdate(moment)).days
    if days <= 0:
        return "today"
    if days == 1:
        return "yesterday"
    if days < 14:
        return f"{days} days ago"
    return f"{days // 7} weeks ago" if days < 70 else f"{days // 30} months ago"


@register.filter
def per_cent(value: float | None) -> str:
    return "–" if value is None else f"{figure(value * 100)} %"


@register.filter
def thousands(value: int) -> str:
    return f"{value:,}"


@register.filter
def item(mapping: dict[Any, Any], key: Any) -> Any:
    return mapping.get(key)


@register.filter
def qr(address: str) -> str:
    """A QR code as SVG without inline style."""
    return qr_svg(address)
