"""Numbers and times as the club reads them. One line each over motion.units; no rules here."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import template
from django.utils import timezone
from django.utils.formats import get_format
from django.utils.html import format_html
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from classroom.site.figures import figure_said, in_own_digits, length_said
from classroom.site.isolated import isolated
from classroom.site.kept_part import kept_markup
from classroom.site.languages import NAMES
from classroom.site.qr import qr_svg
from classroom.site.script_words import words_for_scripts
from motion.course.plain_words import plainly
from motion.units import whole_number

register = template.Library()


@register.filter
def in_unit(value_mm: float | None, unit: str = "cm") -> str:
    """A length in the club's unit: ``{{ gap_mm|in_unit:club.unit }}``."""
    return "–" if value_mm is None else length_said(value_mm, unit)


@register.filter
def in_unit_words(sentence: str, unit: str = "cm") -> str:
    """Motion's sentence with its lengths in the club's unit: ``{{ job.error_words|in_unit_words:club.unit }}``."""
    return plainly(sentence, unit)


@register.filter
def degrees(value: float | None, digits: int = 0) -> str:
    return "–" if value is None else f"{figure_said(value, digits)}°"


@register.filter
def seconds(value: float | None) -> str:
    """A duration as a stopwatch shows it: 41.2 s, 1:12.4."""
    if value is None:
        return "–"
    minutes, tenths = divmod(whole_number(value * 10), 600)
    return in_own_digits(f"{minutes}:{tenths // 10:02}.{tenths % 10}") if minutes else f"{figure_said(value, 1)} s"


@register.filter
def ago(moment: dt.datetime | None) -> str:
    """How long since, in a coach's words: today, yesterday, 3 weeks ago."""
    if moment is None:
        return _("never")
    days = (timezone.localdate() - timezone.localdate(moment)).days
    if days <= 0:
        return _("today")
    if days == 1:
        return _("yesterday")
    if days < 14:
        return ngettext("%(count)s day ago", "%(count)s days ago", days) % {"count": days}
    weeks, months = days // 7, days // 30
    if days < 70:
        return ngettext("%(count)s week ago", "%(count)s weeks ago", weeks) % {"count": weeks}
    return ngettext("%(count)s month ago", "%(count)s months ago", months) % {"count": months}


@register.filter
def figure_of(value: float) -> str:
    """A number as it is, at most three digits behind the decimal mark of the page's language."""
    return in_own_digits(f"{round(value, 3):g}")


@register.filter
def per_cent(value: float | None) -> str:
    return "–" if value is None else f"{figure_said(value * 100)} %"


@register.filter
def thousands(value: int) -> str:
    return f"{value:,}".replace(",", str(get_format("THOUSAND_SEPARATOR")))


@register.filter
def item(mapping: dict[Any, Any], key: Any) -> Any:
    return mapping.get(key)


@register.filter
def in_sentence(name: Any) -> str:
    """A name or title as it stands within a sentence. German keeps a noun's capital wherever it stands."""
    return str(name) if (get_language() or "").startswith("de") else str(name).lower()


@register.filter(name="isolated")
def isolated_name(name: Any) -> str:
    """Names from right to left leave the sentence around them alone."""
    return isolated(name)


@register.filter
def language_name(code: str) -> str:
    """As the language calls itself; its code where it is none of ours."""
    return NAMES.get(code, code)


@register.simple_tag(takes_context=True)
def kept_part(context: template.Context, part: str, *values: object) -> str:
    """A part that hangs on plain values alone (``kept_markup``): ``{% kept_part "missions/day/turns_table_part.html" turns_told %}``.

    Nothing of a request may be in it: no form's token, no message.
    """
    engine = context.template.engine  # type: ignore[union-attr]
    return kept_markup(part, lambda: engine.get_template(part).render(context), *values)


@register.simple_tag
def script_words(*, editor: bool = False) -> str:
    """What the page's scripts say, in its language, where ``static/site/recall.js`` looks for it."""
    words = words_for_scripts(get_language() or "en", editor=editor)
    return format_html('<template id="words">{}</template>', words) if words else ""


@register.filter
def qr(address: str) -> str:
    """A QR code as SVG without inline style."""
    return qr_svg(address)
