"""Strict reading of JSON values: closed to unknown keys, finite numbers in sensible ranges, errors that name the place."""

from __future__ import annotations

import json
import math
import unicodedata
from collections.abc import Sequence
from enum import StrEnum
from typing import Any, NoReturn

from motion.course.sentences import _, in_line, numeral
from motion.errors import MotionCode, SceneError
from motion.scene.records import Point, Polygon
from motion.units import figure

MAX_BYTES = 1_000_000
MAX_DEPTH = 12
MAX_CORNERS = 64
_UNITS = {"degrees": _("degrees"), "s": "s"}
#: Unicode's categories of controls, of halves of characters, and of ends of lines and paragraphs.
_OBEYED = ("Cc", "Cs", "Zl", "Zp")
#: What embeds, overrides and isolates a direction of writing (Unicode Annex 9).
_TURNING = frozenset(map(chr, (*range(0x202A, 0x202F), *range(0x2066, 0x206A))))


def fail(code: StrEnum, message: str, place: str = "") -> NoReturn:
    """Raise a :class:`SceneError`.

    Examples
    --------
    >>> fail(MotionCode.WRONG_TYPE, _("Expected a number."), "base[0]")
    Traceback (most recent call last):
    motion.errors.SceneError: base[0]: Expected a number.
    """
    raise SceneError(code, message, place)


def printable(text: str) -> str:
    r"""The text with everything that a terminal would obey, or that cannot be written at all, as an escape.

    Controls, also those of eight bits; what turns the direction of writing around; ends of lines; halves of characters.

    >>> printable("gravel bank"), printable("tide" + chr(27) + "[2J" + chr(0x9B) + "gate")
    ('gravel bank', 'tide\\x1b[2J\\x9bgate')
    """
    return "".join(
        ascii(char)[1:-1] if unicodedata.category(char) in _OBEYED or char in _TURNING else char for char in text
    )


def parse_json(data: bytes | str) -> Any:
    """Parse JSON that came from outside.

    Raises
    ------
    SceneError
        Codes ``too_large``, ``not_utf8``, ``too_deep``, ``duplicate_key``, ``not_finite`` or ``not_json``.

    Examples
    --------
    >>> parse_json(b'{"width_mm": 2000}')
    {'width_mm': 2000}
    >>> parse_json('{"width_mm": 2000, "width_mm": 3000}')
    Traceback (most recent call last):
    motion.errors.SceneError: The key "width_mm" is written twice in one object; keep one of them.
    """
    if len(data) > MAX_BYTES:
        fail(
            MotionCode.TOO_LARGE,
            _(
                "The file is {size} MB; a scene or course is at most 1 MB.",
                size=numeral(figure(len(data) / 1000000.0, 1)),
            ),
        )
    if isinstance(data, bytes):
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            fail(MotionCode.NOT_UTF8, _("Byte {start} is not UTF-8; save the file as UTF-8 text.", start=error.start))
    else:
        text = data
    _refuse_depth(text)
    try:
        return json.loads(text, object_pairs_hook=_without_duplicates, parse_constant=_refuse_constant)
    except json.JSONDecodeError as error:
        fail(
            MotionCode.NOT_JSON,
            _("Not JSON: {msg}.", msg=error.msg),
            _("line {line}, column {column}", line=error.lineno, column=error.colno),
        )
    except SceneError:
        raise
    except ValueError:
        fail(MotionCode.NOT_FINITE, _("A number has far too many digits; write lengths in millimetres."))


def _refuse_depth(text: str) -> None:
    depth = 0
    quoted = escaped = False
    for i, char in enumerate(text):
        if quoted:
            if escaped:
                escaped = False
            elif char == "\\":
                escaped = True
            elif char == '"':
                quoted = False
        elif char == '"':
            quoted = True
        elif char in "[{":
            depth += 1
            if depth > MAX_DEPTH:
                fail(
                    MotionCode.TOO_DEEP,
                    _(
                        "Brackets are nested more than {max_depth} deep at character {i}; no scene needs that.",
                        max_depth=MAX_DEPTH,
                        i=i,
                    ),
                )
        elif char in "]}":
            depth -= 1


def _without_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    result: dict[str, Any] = {}
    for key, value in pairs:
        if key in result:
            fail(
                MotionCode.DUPLICATE_KEY,
                _('The key "{key}" is written twice in one object; keep one of them.', key=printable(key[:60])),
            )
        result[key] = value
    return result


def _refuse_constant(word: str) -> NoReturn:
    fail(MotionCode.NOT_FINITE, _("{word} is not a number that can be measured; write a plain number.", word=word))


def an_object(value: Any, place: str, required: Sequence[str], optional: Sequence[str] = ()) -> dict[str, Any]:
    """A JSON object with every required key and no key beyond the optional ones.

    Examples
    --------
    >>> an_object({"x_mm": 3, "z_mm": 4}, "start", ["x_mm", "y_mm"])
    Traceback (most recent call last):
    motion.errors.SceneError: start: "z_mm" is not known here; allowed: x_mm, y_mm.
    """
    if not isinstance(value, dict):
        fail(MotionCode.WRONG_TYPE, _("Expected an object with {keys}.", keys=", ".join(required or optional)), place)
    for key in value:
        if key not in required and key not in optional:
            allowed = ", ".join([*required, *optional])
            fail(
                MotionCode.UNKNOWN_KEY,
                _('"{key}" is not known here; allowed: {allowed}.', key=printable(key[:60]), allowed=allowed),
                place,
            )
    for key in required:
        if key not in value:
            fail(MotionCode.MISSING_KEY, _('"{key}" is missing.', key=key), place)
    return value


def a_list(value: Any, place: str, most: int, what: str) -> list[Any]:
    """A JSON list of at most ``most`` items.

    Examples
    --------
    >>> a_list([1, 2, 3], "obstacles", 2, "obstacles")
    Traceback (most recent call last):
    motion.errors.SceneError: obstacles: 3 obstacles; at most 2 are allowed.
    """
    if not isinstance(value, list):
        fail(MotionCode.WRONG_TYPE, _("Expected a list of {what}.", what=what), place)
    if len(value) > most:
        fail(
            MotionCode.TOO_MANY,
            _("{count} {what}; at most {most} are allowed.", count=len(value), what=what, most=most),
            place,
        )
    return value


def a_number(value: Any, place: str, least: float, most: float, unit: str = "") -> float:
    """A finite number within a range that makes sense.

    Examples
    --------
    >>> a_number(12, "margin_mm", 0, 500, "mm")
    12.0
    >>> a_number(900, "margin_mm", 0, 500, "mm")
    Traceback (most recent call last):
    motion.errors.SceneError: margin_mm: 900 mm is outside 0 to 500 mm. Lengths are in millimetres.
    """
    if isinstance(value, bool) or not isinstance(value, int | float):
        fail(MotionCode.WRONG_TYPE, _("Expected a number."), place)
    if isinstance(value, int) and abs(value) > 10**15:
        value = math.copysign(1e16, value)
    number = float(value)
    if not math.isfinite(number):
        fail(MotionCode.NOT_FINITE, _("The number is not finite; write a plain number."), place)
    if not least <= number <= most:
        size, lowest, highest = (numeral(f"{each:g}") for each in (number, least, most))
        if unit.startswith("mm"):
            message = _(
                "{size} {unit} is outside {least} to {most} {unit}.", size=size, least=lowest, most=highest, unit=unit
            )
            fail(MotionCode.OUT_OF_RANGE, in_line(" ", [message, _("Lengths are in millimetres.")]), place)
        if unit:
            message = _(
                "{size} {unit} is outside {least} to {most} {unit}.",
                size=size,
                least=lowest,
                most=highest,
                unit=_UNITS.get(unit, unit),
            )
        else:
            message = _("{size} is outside {least} to {most}.", size=size, least=lowest, most=highest)
        fail(MotionCode.OUT_OF_RANGE, message, place)
    return number


def a_text(value: Any, place: str, most: int = 200) -> str:
    """A short text without control characters.

    Examples
    --------
    >>> a_text("gravel bank", "name")
    'gravel bank'
    >>> a_text("gravel bank", "name", most=5)
    Traceback (most recent call last):
    motion.errors.SceneError: name: The text has 11 characters; at most 5 are allowed.
    """
    if not isinstance(value, str):
        fail(MotionCode.WRONG_TYPE, _("Expected a text."), place)
    if len(value) > most:
        fail(
            MotionCode.TOO_LONG,
            _("The text has {count} characters; at most {most} are allowed.", count=len(value), most=most),
            place,
        )
    if printable(value) != value:
        fail(MotionCode.CONTROL_CHARACTER, _("The text has a control character in it; type it again."), place)
    return value


def a_polygon(value: Any, place: str, reach: float = 100_000.0) -> Polygon:
    """A list of [x, y] corners, at most :data:`MAX_CORNERS`.

    Examples
    --------
    >>> a_polygon([[0, 0], [5, 0], [0, 5]], "base")
    ((0.0, 0.0), (5.0, 0.0), (0.0, 5.0))
    """
    corners = a_list(value, place, MAX_CORNERS, _("corners"))
    ring: list[Point] = []
    for i, corner in enumerate(corners):
        at = f"{place}[{i}]"
        if not isinstance(corner, list) or len(corner) != 2:
            fail(MotionCode.WRONG_TYPE, _("Expected a corner as [x, y]."), at)
        x, y = (a_number(c, f"{at}[{j}]", -reach, reach, "mm") for j, c in enumerate(corner))
        ring.append((x, y))
    return tuple(ring)
