"""Keeping the garbage collector from walking, in the middle of a page, what never goes away."""

from __future__ import annotations

import gc

from django.urls import reverse


def freeze_what_is_loaded() -> None:
    """Load what every page needs and set all that is loaded aside from the collector.

    A web process holds a few hundred thousand objects for as long as it lives: modules, classes, address patterns. Each
    full collection walks all of them for nothing and stops whichever page is being made, by as long again as the page
    itself takes. What was set aside is not walked any more; what pages make and drop is collected as before.
    """
    reverse("board")  # loads every address and its view
    gc.collect()
    gc.freeze()
