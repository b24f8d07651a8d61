"""How background work tells how far it is and hears when to end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class JobControl:
    """``tell(fraction, words)``; ``seconds_left()`` until the deadline; ``stopped()``: asked to stop, or no longer ours."""

    tell: Callable[[float, str], None]
    seconds_left: Callable[[], float]
    stopped: Callable[[], bool]

    def out_of_time(self) -> bool:
        """For work that may as well be left out: asked to stop, or past the deadline."""
        return self.stopped() or self.seconds_left() <= 0
