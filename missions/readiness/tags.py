"""What templates say of readiness: small drawings, the link to a decision, and the rule's own words.

A board repeats the drawings hundreds of times: each is rendered once and remembered.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from django import template
from django.template import Context
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import get_language

from missions.readiness.own_words import own_words
from missions.readiness.rules.standing import Band, Chip

register = template.Library()


@register.simple_tag
@lru_cache(maxsize=64)
def shape(name: str) -> SafeString:
    """``{% shape "tick" %}``: the drawing beside a state's word."""
    return render_to_string("components/shape.html", {"shape": name})


@register.simple_tag
def chip(state: Chip) -> SafeString:
    """A state as shape, word and colour."""
    return _chip(state.css, state.shape, str(state.word))


@lru_cache(maxsize=256)
def _chip(css: str, drawn: str, word: str) -> SafeString:
    return render_to_string("components/chip.html", {"chip": Chip(css, drawn, word)})


@register.simple_tag
def strip(runs: tuple[bool, ...]) -> SafeString:
    """The last runs, newest last."""
    return _strip(runs, get_language())


@lru_cache(maxsize=4096)
def _strip(runs: tuple[bool, ...], _language: str | None) -> SafeString:
    return render_to_string("components/strip.html", {"strip": runs, "successes": sum(runs), "of": len(runs)})


@register.inclusion_tag("missions/readiness/decide_link_part.html", takes_context=True)
def decide_link(
    context: Context, verb: str, tier_id: int, words: str, css: str = "", *, risky: bool = False
) -> dict[str, Any]:
    """A button that asks for a decision about the page's team: in the dialogue, or on a page of its own."""
    asked = {"verb": verb, "tier_id": tier_id, "words": words, "css": css, "risky": risky}
    return {"team_id": context["page"].team.pk, "back": context["request"].path, **asked}


@register.filter(name="own_words")
def in_own_words(sentence: str) -> str:
    """What the readiness rule says, in the language of the page: ``{{ found.why|own_words }}``."""
    return own_words(sentence)


@register.simple_tag
def band(interval: Band) -> SafeString:
    """The interval of the true rate against the bar."""
    return _band(interval, get_language())


@lru_cache(maxsize=4096)
def _band(interval: Band, _language: str | None) -> SafeString:
    return render_to_string("components/band.html", {"band": interval})
