"""Small drawings that a board repeats hundreds of times: each is rendered once and remembered."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from django import template
from django.template import Context
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from missions.readiness.rules.standing import Band, Chip

register = template.Library()


@register.simple_tag
@lru_cache(maxsize=64)
def shape(name: str) -> SafeString:
    """``{% shape "tick" %}``: the drawing beside a state's word."""
    return render_to_string("components/shape.html", {"shape": name})


@register.simple_tag
@lru_cache(maxsize=64)
def chip(state: Chip) -> SafeString:
    """A state as shape, word and colour."""
    return render_to_string("components/chip.html", {"chip": state})


@register.simple_tag
@lru_cache(maxsize=4096)
def strip(runs: tuple[bool, ...]) -> SafeString:
    """The last runs, newest last."""
    return render_to_string("components/strip.html", {"strip": runs, "successes": sum(runs), "of": len(runs)})


@register.inclusion_tag("missions/readiness/decide_link_part.html", takes_context=True)
def decide_link(context: Context, verb: str, tier_id: int, words: str, css: str = "") -> dict[str, Any]:
    """A button that asks for a decision about the page's team: in the dialogue, or on a page of its own."""
    asked = {"verb": verb, "tier_id": tier_id, "words": words, "css": css}
    return {"team_id": context["page"].team.pk, "back": context["request"].path, **asked}


@register.simple_tag
@lru_cache(maxsize=4096)
def band(interval: Band) -> SafeString:
    """The interval of the true rate against the bar."""
    return render_to_string("components/band.html", {"band": interval})
