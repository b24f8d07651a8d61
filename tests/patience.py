"""How long the suite waits for what must come. Only what never comes fails a test: a slow or busy machine does not.

One number for everything that waits: threads, processes, pages. Nothing sleeps it out; a wait ends when its thing is
there. HELMROOM_PATIENCE multiplies it, for a machine that is slower still (``make test-busy`` does so).
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TypeVar

from django.conf import settings

PATIENCE: float = settings.PATIENCE
LONGEST_S = 240.0 * PATIENCE
LONGEST_MS = 1000.0 * LONGEST_S
T = TypeVar("T")


def until(look: Callable[[], T], what: str, *, pause: Callable[[float], object] = time.sleep) -> T:
    """Look again and again until there is something to see; it is given back.

    Parameters
    ----------
    pause
        Waits so many seconds between two looks; a browser's page has its own way, in which it goes on working.
    """
    ends = time.monotonic() + LONGEST_S
    while not (found := look()):
        assert time.monotonic() < ends, f"waited {LONGEST_S:.0f} s for {what}"
        pause(0.05)
    return found
