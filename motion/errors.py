"""Typed errors of the motion layer. Each has a code for programs and a sentence that tells a person what to do next."""

from __future__ import annotations


class MotionError(ValueError):
    """Base of all errors a caller may show.

    Parameters
    ----------
    code
        Short stable name, such as ``"base_crosses_itself"``.
    message
        One sentence: what is wrong and what to do about it.
    place
        Where in the input, such as ``"obstacles[2][0]"``; empty when the whole is meant.
    """

    def __init__(self, code: str, message: str, place: str = "") -> None:
        super().__init__(f"{place}: {message}" if place else message)
        self.code = code
        self.message = message
        self.place = place


class SceneError(MotionError):
    """A scene, robot or course file that cannot be used as it stands."""


class NoCourseError(MotionError):
    """No clear course exists within the search's resolution; carries the tightest place found.

    Codes: ``blocked``, ``no_gap``, ``gap_too_narrow``, ``no_course``, and ``steps_too_coarse`` when only the rounding
    to the robot's steps failed.

    ``tightest`` is None or a dict with ``gap_mm``, ``needed_mm``, ``x_mm``, ``y_mm``, ``between`` (two names),
    and ``segment`` ((x, y), (x, y)) across the gap, for words and for the drawing.
    """

    def __init__(self, code: str, message: str, tightest: dict | None = None) -> None:
        super().__init__(code, message)
        self.tightest = tightest


class DeadlineError(MotionError):
    """The deadline that the caller gave has passed; nothing was quietly cut short."""


class CancelledError(MotionError):
    """The caller asked to stop."""


class FitError(MotionError):
    """Measurements from which nothing can be fitted."""


class UnitError(MotionError):
    """A length or an angle that cannot be read without guessing."""
