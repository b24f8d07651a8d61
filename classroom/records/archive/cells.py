"""One value of a row: as it stands in an archive, and back, refusing whatever the field could not hold."""

from __future__ import annotations

import datetime as dt
import math
import re
import uuid
from collections.abc import Callable, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import models
from django.db.backends.base.operations import BaseDatabaseOperations

from classroom.records.archive.shape import code_kinds

#: Documents of a row (outlines, readings, evidence) are not nested deeper than this.
DEEPEST = 24
CODE = re.compile(r"([a-z]+):(\d+)")
#: A row that a text names and that is not in the archive: no row has this number.
NOBODY = 0


class CellError(ValueError):
    """What is wrong with a value, in a few words."""


def write_cell(field: models.Field[Any, Any]) -> Callable[[Any], Any] | None:
    """Turns a value into what JSON has; None where it is that already. Links are turned by whoever numbers rows."""
    if isinstance(field, models.DateTimeField):
        return lambda value: value and value.astimezone(dt.UTC).isoformat()
    if isinstance(field, models.DateField):
        return lambda value: value and value.isoformat()
    if isinstance(field, models.UUIDField):
        return lambda value: value and str(value)
    return None


def read_cell(field: models.Field[Any, Any]) -> Callable[[Any], Any]:
    """Turns what JSON had into the field's value.

    Raises
    ------
    CellError
    """
    read = _reader(field)

    def checked(value: Any) -> Any:
        if value is None:
            if not field.null:
                raise CellError("is empty")
            return None
        return read(value)

    return checked


def _reader(field: models.Field[Any, Any]) -> Callable[[Any], Any]:
    if isinstance(field, models.JSONField):
        return _document
    if isinstance(field, models.BooleanField):
        return _boolean
    if isinstance(field, models.FloatField):
        return _number
    if isinstance(field, models.IntegerField):
        low, high = BaseDatabaseOperations.integer_field_ranges[field.get_internal_type()]
        return lambda value: _whole(value, low, high)
    if isinstance(field, models.DateTimeField):
        return _moment
    if isinstance(field, models.DateField):
        return _day
    if isinstance(field, models.UUIDField):
        return _uuid
    if isinstance(field, models.CharField | models.TextField):
        choices = {key for key, _ in field.flatchoices} | ({""} if field.blank else set())
        longest, address = field.max_length, isinstance(field, models.EmailField)
        return lambda value: _text(value, longest, choices if field.choices else None, address)
    raise TypeError(f"An archive does not know how to read {field}.")


def _boolean(value: Any) -> bool:
    if not isinstance(value, bool):
        raise CellError("is neither true nor false")
    return value


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise CellError("is not a number")
    return float(value)


def _whole(value: Any, low: int, high: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise CellError("is not a whole number that fits")
    return value


def _text(value: Any, longest: int | None, choices: set[str] | None, address: bool) -> str:
    _sound(value)
    if longest is not None and len(value) > longest:
        raise CellError(f"is longer than {longest} letters")
    if choices is not None and value not in choices:
        raise CellError("is none of those that there are")
    if address and value:
        try:
            validate_email(value)
        except ValidationError as error:
            raise CellError("is no e-mail address") from error
    return str(value)


def _sound(value: Any) -> None:
    """Text that every database can hold: no zero byte, no halves of characters."""
    if not isinstance(value, str) or "\x00" in value:
        raise CellError("is not text")
    try:
        value.encode()
    except UnicodeEncodeError as error:
        raise CellError("is not text") from error


def _moment(value: Any) -> dt.datetime:
    try:
        moment = dt.datetime.fromisoformat(value)
    except (TypeError, ValueError) as error:
        raise CellError("is no moment") from error
    if moment.tzinfo is None:
        raise CellError("is a moment without its distance from UTC")
    try:
        return moment.astimezone(dt.UTC)
    except OverflowError as error:
        raise CellError("is no moment") from error


def _day(value: Any) -> dt.date:
    try:
        return dt.date.fromisoformat(value)
    except (TypeError, ValueError) as error:
        raise CellError("is no date") from error


def _uuid(value: Any) -> uuid.UUID:
    try:
        return uuid.UUID(value)
    except (AttributeError, TypeError, ValueError) as error:
        raise CellError("is no UUID") from error


def _document(value: Any, deep: int = 0) -> Any:
    if deep > DEEPEST:
        raise CellError(f"is nested more than {DEEPEST} deep")
    if isinstance(value, str):
        _sound(value)
    elif isinstance(value, float) and not math.isfinite(value):
        raise CellError("holds what is not a number")
    elif isinstance(value, list):
        for each in value:
            _document(each, deep + 1)
    elif isinstance(value, dict):
        for key, each in value.items():
            _sound(key)
            _document(each, deep + 1)
    return value


def renumber(text: str, numbers: Mapping[str, Mapping[int, int]]) -> str:
    """The rows that a text of the log names, by other numbers; those that have none become nobody.

    >>> renumber("team:12 tier:7 v3", {"team": {12: 1}})
    'team:1 tier:0 v3'
    """

    def word(said: str) -> str:
        found = CODE.fullmatch(said)
        if found is None or found[1] not in code_kinds():
            return said
        return f"{found[1]}:{numbers.get(found[1], {}).get(int(found[2]), NOBODY)}"

    return " ".join(word(each) for each in text.split(" "))
