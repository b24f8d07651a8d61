"""Typed errors of the Django layers: a code for programs, a sentence that tells a person what to do next."""

from __future__ import annotations

import copyreg
from enum import StrEnum
from typing import TYPE_CHECKING, Any, ClassVar

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise


class ClassroomCode(StrEnum):
    """Everything that the classroom refuses. The sentence stands where it is refused."""

    ALREADY_THERE = "already_there"
    ARCHIVE_DAMAGED = "archive_damaged"
    ARCHIVE_NEWER = "archive_newer"
    ARCHIVE_UNFIT = "archive_unfit"
    BUSY = "busy"
    CHANGED_MEANWHILE = "changed_meanwhile"
    CUT_SHORT = "cut_short"
    EMPTY = "empty"
    HALF_A_COLUMN = "half_a_column"
    HOW_MANY = "how_many"
    IN_REPAIR = "in_repair"
    LAST_LEAD = "last_lead"
    LETTER_UNDERWAY = "letter_underway"
    MIRRORED = "mirrored"
    MISSING_READING = "missing_reading"
    MOVING = "moving"
    NAME_TAKEN = "name_taken"
    NO_CONSENT = "no_consent"
    NO_MAIL = "no_mail"
    NO_FREE_CODE = "no_free_code"
    NO_SURFACE = "no_surface"
    NO_TABLE = "no_table"
    NOT_A_COPY = "not_a_copy"
    NOT_AN_ARCHIVE = "not_an_archive"
    NOT_A_CORNER = "not_a_corner"
    NOT_A_DATABASE = "not_a_database"
    NOT_A_NICKNAME = "not_a_nickname"
    NOT_A_NUMBER = "not_a_number"
    NOT_A_PICTURE = "not_a_picture"
    NOT_A_TABLE = "not_a_table"
    NOT_EMPTY = "not_empty"
    NOT_LET_IN = "not_let_in"
    NOT_MEASURED = "not_measured"
    NOT_MOVED = "not_moved"
    NOT_SECURE = "not_secure"
    NOT_TEXT = "not_text"
    TWINS_UNANSWERED = "twins_unanswered"
    NOT_YET = "not_yet"
    NO_SUCH_ZONE = "no_such_zone"
    LINK_END = "link_end"
    NOTHING_FOUND = "nothing_found"
    NOTHING_TO_ADD = "nothing_to_add"
    OTHER_ADDRESS = "other_address"
    OTHER_CHILD = "other_child"
    OTHER_CLUB = "other_club"
    OTHER_COLOURS = "other_colours"
    OTHER_SUM = "other_sum"
    OUT_OF_MARKS = "out_of_marks"
    OVER_TIME = "over_time"
    SIGN_IN_FIRST = "sign_in_first"
    SPARE_GONE = "spare_gone"
    STILL_WANTED = "still_wanted"
    SWITCHED_OFF = "switched_off"
    THERE_ALREADY = "there_already"
    THIS_BROWSER = "this_browser"
    TOO_BIG = "too_big"
    TOO_FAR = "too_far"
    TOO_FEW_CORNERS = "too_few_corners"
    TOO_FEW_SPARES = "too_few_spares"
    TOO_MANY_CORNERS = "too_many_corners"
    TOO_MANY_LINES = "too_many_lines"
    TOO_MANY_PARTS = "too_many_parts"
    TOO_MANY_SQUARES = "too_many_squares"
    TOO_MANY_TEAMS = "too_many_teams"
    TOO_MANY_TRIES = "too_many_tries"
    TOO_SLOW = "too_slow"
    TOO_SMALL = "too_small"
    TWO_FILES_IN_ONE = "two_files_in_one"
    TWO_SIZES = "two_sizes"
    TWO_TABLES = "two_tables"
    UNKNOWN_KIND = "unknown_kind"
    UNKNOWN_WAY = "unknown_way"
    USED = "used"


class HelmroomError(Exception):
    """Something that was asked for cannot be done, and the asker can do something about it.

    ``status`` is the HTTP status of a page that says so.
    """

    status: ClassVar[int] = 422

    def __init__(self, code: StrEnum, message: _StrOrPromise) -> None:
        super().__init__(message)
        self.code = code

    @property
    def message(self) -> str:
        """In the language of whoever reads it, where it was marked lazily."""
        return str(self.args[0])

    def __reduce__(self) -> tuple[Any, ...]:
        """Whole on its way between processes: an exception would be made anew of its words alone."""
        return copyreg.__newobj__, (type(self), *self.args), self.__dict__  # type: ignore[attr-defined]


class NotAllowedError(HelmroomError):
    """The person is known but may not do this."""

    status = 403


class ConflictError(HelmroomError):
    """Somebody else was quicker, or the same key came with another body. Nothing was changed."""

    status = 409


class InputError(HelmroomError):
    """What was entered cannot be used as it stands."""

    status = 422
