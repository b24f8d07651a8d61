"""What is done once before the worker starts, while the site answers already."""

from __future__ import annotations

from config.demo.half_made import is_being_made, take_away_half_made
from config.process.supervisor import Chore
from planning.preparing.kernels import are_compiled, tell_preparation


def demonstration_chore() -> Chore:
    """The demonstration club that ``begin_making`` has announced."""
    return Chore("demo_club", wanted=is_being_made, give_up=take_away_half_made)


def compiling_chore() -> Chore:
    """What was compiled when a try fails is kept, so the next one goes on from there."""
    if not are_compiled():
        tell_preparation(0, 0)  # from now on pages say that it is coming
    return Chore(
        "warm", wanted=lambda: not are_compiled(), give_up=lambda: tell_preparation(0, 0, failed=True), tries=3
    )
