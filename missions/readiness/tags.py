"""Small drawings that a board repeats hundreds of times: each is rendered once and remembered."""

from __future__ import annotations

from functools import lru_cache

from django import template
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


@register.simple_tag
@lru_cache(maxsize=4096)
def band(interval: Band) -> SafeString:
    """The interval of the true rate against the bar."""
    return render_to_string("components/band.html", {"band": interval})
