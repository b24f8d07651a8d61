"""Typed errors of the motion layer. Each has a code for programs and a sentence that tells a person what to do next."""

from __future__ import annotations

import copyreg
from enum import StrEnum
from typing import Any


class MotionCode(StrEnum):
    """Everything that motion refuses. The sentence, with what to do next, stands where it is refused."""

    ABSURD = "absurd"
    ALL_EQUAL = "all_equal"
    BAD_COUNT = "bad_count"
    BAD_LEVEL = "bad_level"
    BAD_NOISE = "bad_noise"
    BAD_ROOM = "bad_room"
    BAD_SD = "bad_sd"
    BAD_SHAPE = "bad_shape"
    BASE_CROSSES_ITSELF = "base_crosses_itself"
    BASE_DEGENERATE = "base_degenerate"
    BASE_OFF_TABLE = "base_off_table"
    BLOCKED = "blocked"
    CANCELLED = "cancelled"
    CONTROL_CHARACTER = "control_character"
    DEADLINE = "deadline"
    DUPLICATE_KEY = "duplicate_key"
    EMPTY = "empty"
    FLAT_TRIANGLE = "flat_triangle"
    FOLDED = "folded"
    FOOTPRINT_CROSSES_ITSELF = "footprint_crosses_itself"
    FOOTPRINT_DEGENERATE = "footprint_degenerate"
    FOOTPRINT_SIZE = "footprint_size"
    FOOTPRINT_WITHOUT_AXLE = "footprint_without_axle"
    FORMULA = "formula"
    GAP_TOO_NARROW = "gap_too_narrow"
    IMPOSSIBLE_TRIANGLE = "impossible_triangle"
    ITSELF = "itself"
    KEEP_OUT_CROSSES_ITSELF = "keep_out_crosses_itself"
    KEEP_OUT_DEGENERATE = "keep_out_degenerate"
    KEEP_OUT_ON_PRECONTACT = "keep_out_on_precontact"
    KEEP_OUT_ON_START = "keep_out_on_start"
    MARK_BENT = "mark_bent"
    MARK_MOVED = "mark_moved"
    MARK_TWICE = "mark_twice"
    MIRRORED = "mirrored"
    MISSING = "missing"
    MISSING_COLUMN = "missing_column"
    MISSING_KEY = "missing_key"
    NEEDS_MORE_STEPS = "needs_more_steps"
    NO_CONVERGENCE = "no_convergence"
    NO_COURSE = "no_course"
    NO_CSV = "no_csv"
    NO_GAP = "no_gap"
    NO_PLACE = "no_place"
    NO_PUSH = "no_push"
    NO_RUNS = "no_runs"
    NO_SPREAD = "no_spread"
    NO_SUCH_CORNER = "no_such_corner"
    NOT_A_LENGTH = "not_a_length"
    NOT_AN_ANGLE = "not_an_angle"
    NOT_FINITE = "not_finite"
    NOT_JSON = "not_json"
    NOT_UTF8 = "not_utf8"
    OBLIQUE = "oblique"
    OBSTACLE_CROSSES_ITSELF = "obstacle_crosses_itself"
    OBSTACLE_DEGENERATE = "obstacle_degenerate"
    OBSTACLE_OFF_TABLE = "obstacle_off_table"
    OBSTACLE_ON_PRECONTACT = "obstacle_on_precontact"
    OBSTACLE_ON_START = "obstacle_on_start"
    OTHER_KIND = "other_kind"
    OUT_OF_RANGE = "out_of_range"
    OUTLINE_CROSSES_ITSELF = "outline_crosses_itself"
    OUTLINE_DEGENERATE = "outline_degenerate"
    PRECONTACT_IN_TARGET = "precontact_in_target"
    PRECONTACT_OFF_TABLE = "precontact_off_table"
    PRINT_SCALE = "print_scale"
    SHAPE = "shape"
    START_OUTSIDE_BASE = "start_outside_base"
    STEPS_TOO_COARSE = "steps_too_coarse"
    TABLE_SIZE = "table_size"
    TARGET_CROSSES_ITSELF = "target_crosses_itself"
    TARGET_DEGENERATE = "target_degenerate"
    TARGET_OFF_TABLE = "target_off_table"
    TARGET_ON_START = "target_on_start"
    TARGETS_IN_ONE_PLACE = "targets_in_one_place"
    TOO_CROWDED = "too_crowded"
    TOO_DEEP = "too_deep"
    TOO_FEW = "too_few"
    TOO_LARGE = "too_large"
    TOO_LONG = "too_long"
    TOO_MANY = "too_many"
    TURN_DISAGREES = "turn_disagrees"
    TWO_READINGS = "two_readings"
    TWO_SIDES = "two_sides"
    UNCLEAR = "unclear"
    UNKNOWN_FRACTION = "unknown_fraction"
    UNKNOWN_KEY = "unknown_key"
    UNKNOWN_UNIT = "unknown_unit"
    UNKNOWN_WAY = "unknown_way"
    UNSURE = "unsure"
    UNTOUCHED_COUNTS = "untouched_counts"
    WRONG_FORMAT = "wrong_format"
    WRONG_TYPE = "wrong_type"
    WRONG_VALUE = "wrong_value"
    ZERO = "zero"


class MotionError(ValueError):
    """Base of all errors a caller may show.

    Parameters
    ----------
    code
        One of :class:`MotionCode`.
    message
        One sentence: what is wrong and what to do about it.
    place
        Where in the input, such as ``"obstacles[2][0]"``; empty when the whole is meant.
    """

    def __init__(self, code: StrEnum, message: str, place: str = "") -> None:
        super().__init__(f"{place}: {message}" if place else message)
        self.code = code
        self.message = message
        self.place = place

    def __str__(self) -> str:
        return f"{self.place}: {self.message}" if self.place else str(self.message)

    def __reduce__(self) -> tuple[Any, ...]:
        """Whole on its way between processes: an exception would be made anew of its words alone."""
        return copyreg.__newobj__, (type(self), *self.args), self.__dict__  # type: ignore[attr-defined]


class SceneError(MotionError):
    """A scene, robot or course file that cannot be used as it stands."""


class NoCourseError(MotionError):
    """No clear course exists within the search's resolution; carries the tightest place found.

    Codes: ``blocked``, ``no_gap``, ``gap_too_narrow``, ``no_course``, ``steps_too_coarse`` when only the rounding
    to the robot's steps failed, and ``needs_more_steps`` when no course has as few actions as were allowed.

    ``tightest`` is None or a dict with ``gap_mm``, ``needed_mm``, ``x_mm``, ``y_mm``, ``between`` (two names),
    and ``segment`` ((x, y), (x, y)) across the gap, for words and for the drawing. ``mend``, when something was found
    that helps and has a place on the map, has outlines ``before`` and ``after`` and a ``label``.
    """

    def __init__(self, code: StrEnum, message: str, tightest: dict | None = None, mend: dict | None = None) -> None:
        super().__init__(code, message)
        self.tightest = tightest
        self.mend = mend


class DeadlineError(MotionError):
    """The deadline that the caller gave has passed; nothing was quietly cut short."""


class CancelledError(MotionError):
    """The caller asked to stop."""


class FitError(MotionError):
    """Measurements from which nothing can be fitted."""


class UnitError(MotionError):
    """A length or an angle that cannot be read without guessing."""
