"""Why there is no course: the reason in words, and the tightest place on the way, measured."""

from __future__ import annotations

from collections.abc import Callable

from motion.errors import NoCourseError
from motion.scene import Scene
from motion.search_phases import Phases


def explain_no_course(scene: Scene, phases: Phases, half: str, tick: Callable[[], None]) -> NoCourseError:
    """The error to raise when no way was found on one half of the course (``"out"`` or ``"home"``)."""
    return NoCourseError("no_course", "No clear course was found.", None)
