"""The course for the examples in docstrings."""

from __future__ import annotations

from motion.course.actions import Action, Drive, Push


def example_course() -> tuple[Action, ...]:
    """On the example scene: ahead to the gate, push, and straight back to where it began.

    Examples
    --------
    >>> [action.distance_mm for action in example_course()]
    [900, 100, -1000]
    """
    return Drive(900), Push(100), Drive(-1000)
