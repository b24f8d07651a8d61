"""Sentences that are written down once, before anybody asks, and are put into the reader's language when they are read."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from django.utils.translation import gettext_lazy

#: ``gettext_lazy`` for records whose fields are texts: what it gives is no ``str``, and is one wherever it is shown.
lazily = cast("Callable[[str], str]", gettext_lazy)
