"""The bar of the planner's getting ready, for any page on which something waits for it."""

from __future__ import annotations

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from planning.preparing.kernels import kernels_ready, preparation

register = template.Library()


@register.simple_tag(name="preparing")
def planner_bar() -> SafeString | str:
    """``{% preparing %}``: how far it is, in words and with a bar; nothing once the planner is ready."""
    if kernels_ready():
        return ""
    return render_to_string("components/preparing.html", {"preparation": preparation()})
