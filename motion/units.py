"""Lengths, angles and yaw in the words and signs that people use; mm and degrees inside.

Nothing here guesses: a number without a unit has the unit that the caller names, and a text that can be read in two
ways is refused with a remedy.
"""

from __future__ import annotations

import math
import re
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Literal

from motion.course.sentences import _, numeral
from motion.errors import MotionCode, UnitError

Unit = Literal["mm", "cm", "in"]

#: Length of one unit in mm. The inch is 25.4 mm exactly (international inch, 1959).
MM_PER_UNIT: dict[str, float] = {"mm": 1.0, "cm": 10.0, "in": 25.4}

_MM_PER_WRITTEN_UNIT = MM_PER_UNIT | {
    "m": 1000.0,
    "inch": 25.4,
    "inches": 25.4,
    '"': 25.4,
    "″": 25.4,
    "ft": 304.8,
}
_SHOWN_DECIMALS = {"mm": 0, "cm": 1, "in": 1}
_LONGEST_MM = 1_000_000.0
_NUMBER = r"\d+(?:\.\d*)?|\.\d+"
_LENGTH = re.compile(
    rf"(?P<sign>[+-])?\s*(?:(?P<whole>\d+)\s+(?P<over>\d+)/(?P<under>\d+)|(?P<top>\d+)/(?P<bottom>\d+)|"
    rf'(?P<number>{_NUMBER}))\s*(?P<unit>[a-z"″]*)\.?'
)
_ANGLE = re.compile(rf"(?P<sign>[+-])?\s*(?P<number>{_NUMBER})\s*(?P<unit>deg|degree|degrees|°)?")
_GLYPHS = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}


def parse_length(text: str | float, default_unit: str) -> float:
    """Length in mm of what a person typed.

    Parameters
    ----------
    text
        ``"26 in"``, ``"26 1/2 in"``, ``'26"'``, ``"66 cm"``, ``"66,5 cm"``, ``"0.66 m"`` or a number without unit.
    default_unit
        ``"mm"``, ``"cm"`` or ``"in"``: the unit of a number that names none.

    Raises
    ------
    UnitError
        ``unknown_unit``, ``not_a_length``, ``two_readings`` (a comma that may be decimal or thousands) or
        ``too_long`` (over one kilometre).

    Examples
    --------
    >>> parse_length("26 in", "cm")
    660.4
    >>> parse_length("66", "cm")
    660.0
    """
    unit_of(default_unit)
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        return _sane_length(float(text) * MM_PER_UNIT[default_unit], str(text))
    written = str(text)
    match = _LENGTH.fullmatch(_tidy(written))
    if match is None:
        raise UnitError(
            MotionCode.NOT_A_LENGTH,
            _(
                "“{written}” is not a length; write a number and a unit, such as 66 cm or 26 in.",
                written=_short(written),
            ),
        )
    unit = match["unit"] or default_unit
    if unit not in _MM_PER_WRITTEN_UNIT:
        raise UnitError(
            MotionCode.UNKNOWN_UNIT, _("“{unit}” is not a unit known here; use mm, cm, m, in or ft.", unit=_short(unit))
        )
    value = _value_of(match, written)
    if match["sign"] == "-":
        value = -value
    return _sane_length(value * _MM_PER_WRITTEN_UNIT[unit], written)


def _value_of(match: re.Match[str], written: str) -> float:
    if match["number"] is not None:
        return float(match["number"])
    over, under = (match["over"], match["under"]) if match["over"] else (match["top"], match["bottom"])
    if int(under) == 0:
        raise UnitError(
            MotionCode.NOT_A_LENGTH, _("“{written}” divides by zero; write it as a number.", written=_short(written))
        )
    return int(match["whole"] or 0) + int(over) / int(under)


def _tidy(written: str) -> str:
    tidy = written.strip().lower().replace("\u2212", "-").replace("\u00a0", " ").replace("\u202f", " ")
    for glyph, plain in _GLYPHS.items():
        tidy = tidy.replace(glyph, plain)
    tidy = tidy.strip()
    if "," in tidy:
        before, _comma, after = tidy.partition(",")
        digits = re.match(r"\d*", after)
        count = len(digits.group()) if digits else 0
        if "," in after or "." in tidy or (count == 3 and before.lstrip("+-") not in ("", "0")):
            raise UnitError(
                MotionCode.TWO_READINGS,
                _(
                    "“{written}” can be read in two ways; leave thousands unmarked and use a point for decimals.",
                    written=_short(written),
                ),
            )
        tidy = tidy.replace(",", ".")
    return tidy


def _sane_length(mm: float, written: str) -> float:
    if not math.isfinite(mm):
        raise UnitError(
            MotionCode.NOT_A_LENGTH,
            _("“{written}” is not a length; write a number and a unit.", written=_short(written)),
        )
    if abs(mm) > _LONGEST_MM:
        raise UnitError(
            MotionCode.TOO_LONG,
            _("“{written}” is over a kilometre; check the number and its unit.", written=_short(written)),
        )
    return mm


def _short(text: str) -> str:
    return text if len(text) <= 24 else text[:24] + "…"


def unit_of(name: str) -> str:
    """``name`` if it is a unit that a club may choose.

    Raises
    ------
    UnitError
        ``unknown_unit``.

    Examples
    --------
    >>> unit_of("cm")
    'cm'
    >>> unit_of("ell")
    Traceback (most recent call last):
    motion.errors.UnitError: “ell” is not a unit known here; choose mm, cm or in.
    """
    if name not in MM_PER_UNIT:
        raise UnitError(
            MotionCode.UNKNOWN_UNIT,
            _("“{name}” is not a unit known here; choose mm, cm or in.", name=_short(str(name))),
        )
    return name


def to_unit(mm: float, unit: str) -> float:
    """A length in mm as a number of ``unit``.

    Examples
    --------
    >>> to_unit(508.0, "in"), to_unit(508.0, "cm")
    (20.0, 50.8)
    """
    return mm / MM_PER_UNIT[unit_of(unit)]


def format_length(
    mm: float, unit: str, *, decimals: int | None = None, fraction: int | None = None, with_unit: bool = True
) -> str:
    """A length as people read it.

    Parameters
    ----------
    mm
        Length in mm.
    unit
        ``"mm"``, ``"cm"`` or ``"in"``.
    decimals
        Most decimals; trailing zeros are left out. Default 0 for mm, 1 for cm and in.
    fraction
        With ``"in"`` only: nearest 1/fraction of an inch, written as a fraction (2, 4, 8 or 16).

    Raises
    ------
    UnitError
        ``unknown_unit``, ``not_a_length`` (NaN or infinite), ``unknown_fraction``.

    Examples
    --------
    >>> format_length(660.4, "in")
    '26 in'
    >>> format_length(673.1, "in", fraction=2)
    '26 1/2 in'
    >>> format_length(660.4, "cm")
    '66 cm'
    """
    unit_of(unit)
    if not math.isfinite(mm):
        raise UnitError(MotionCode.NOT_A_LENGTH, _("There is no number to show here yet; measure it first."))
    if fraction is not None:
        number = _in_fractions(mm, unit, fraction)
    else:
        number = _decimal(to_unit(mm, unit), _SHOWN_DECIMALS[unit] if decimals is None else decimals)
    return f"{number} {unit}" if with_unit else number


def _in_fractions(mm: float, unit: str, fraction: int) -> str:
    if unit != "in" or fraction not in (2, 4, 8, 16):
        raise UnitError(
            MotionCode.UNKNOWN_FRACTION, _("Fractions are for inches, in halves, quarters, eighths or sixteenths.")
        )
    parts = whole_number(abs(mm) / 25.4 * fraction)
    whole, rest = divmod(parts, fraction)
    words = [str(whole)] if whole or not rest else []
    if rest:
        words.append(str(Fraction(rest, fraction)))
    return ("-" if mm < 0 and parts else "") + " ".join(words)


def _rounded(value: float, decimals: int) -> Decimal:
    """Halves go away from zero, and what is a half but for the noise of floating point is one.

    Noise is what lies beyond ten digits, or beyond a millionth of the last place that is shown: far more than sums of
    a few numbers leave behind, far less than anybody measures. So that every machine says the same words.
    """
    sure = Decimal(f"{value:.9e}").quantize(Decimal(1).scaleb(-(decimals + 6)), ROUND_HALF_UP)
    return sure.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)


def figure(value: float, decimals: int = 0, *, sign: bool = False) -> str:
    """A number as it is said to a person, with just so many decimals; a dash when there is none (NaN, infinite).

    Parameters
    ----------
    sign
        Say a plus too; nothing has no sign.

    Examples
    --------
    >>> figure(2.7499999999998708, 1)
    '2.8'
    >>> figure(0.8, 1, sign=True)
    '+0.8'
    >>> figure(-0.001, 1)
    '0.0'
    """
    if not math.isfinite(value):
        return "–"
    rounded = _rounded(value, decimals)
    return f"{rounded if rounded else abs(rounded):{'+' if sign and rounded else ''}f}"


def in_digits(value: float, digits: int) -> str:
    """A number with at most so many digits in all, short: for sizes from steps to tables.

    Examples
    --------
    >>> in_digits(0.98765, 3), in_digits(1270.0, 3)
    ('0.988', '1270')
    """
    if not math.isfinite(value):
        return "–"
    before_the_point = math.floor(math.log10(abs(value))) + 1 if value else 1
    return _decimal(value, max(digits - before_the_point, 0))


def whole_number(value: float) -> int:
    """The nearest whole number, halves away from zero, noise left out as in :func:`figure`.

    Examples
    --------
    >>> whole_number(100 * 0.285), whole_number(-0.5)
    (29, -1)
    """
    return int(_rounded(value, 0))


def nearest_step(value: float, step: float) -> float:
    """The multiple of ``step`` next to ``value``.

    Examples
    --------
    >>> nearest_step(509.8, 10.0)
    510.0
    """
    return whole_number(value / step) * step


def _decimal(value: float, decimals: int) -> str:
    """Trailing zeros left out."""
    text = f"{_rounded(value, decimals):f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def parse_angle(text: str | float) -> float:
    """Angle in degrees of what a person typed: ``"90"``, ``"-45 deg"``, ``"22.5°"``.

    Raises
    ------
    UnitError
        ``not_an_angle``, ``two_readings``.

    Examples
    --------
    >>> parse_angle("90"), parse_angle("-45 deg"), parse_angle("22,5°")
    (90.0, -45.0, 22.5)
    """
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        value = float(text)
    else:
        match = _ANGLE.fullmatch(_tidy(str(text)))
        if match is None:
            raise UnitError(
                MotionCode.NOT_AN_ANGLE,
                _("“{text}” is not an angle; write degrees, such as 90.", text=_short(str(text))),
            )
        value = float(match["number"]) * (-1.0 if match["sign"] == "-" else 1.0)
    if not math.isfinite(value):
        raise UnitError(MotionCode.NOT_AN_ANGLE, _("That is not an angle; write degrees, such as 90."))
    return value


def format_angle(deg: float, decimals: int = 1) -> str:
    """Degrees with their sign ring; trailing zeros left out.

    Examples
    --------
    >>> format_angle(-90.0)
    '-90°'
    """
    if not math.isfinite(deg):
        raise UnitError(MotionCode.NOT_AN_ANGLE, _("There is no angle to show here yet; measure it first."))
    return _decimal(deg, decimals) + "°"


def wrap_deg(deg: float) -> float:
    """The same direction in (-180, 180].

    Examples
    --------
    >>> wrap_deg(270.0)
    -90.0
    >>> wrap_deg(-180.0)
    180.0
    """
    wrapped = math.remainder(deg, 360.0)
    return 180.0 if wrapped == -180.0 else wrapped + 0.0


def turn_in_words(by_deg: float, decimals: int = 1) -> str:
    """A signed turn in words that need no sign.

    Examples
    --------
    >>> turn_in_words(-90.0)
    'right 90°'
    >>> turn_in_words(0.0)
    'no turn'
    """
    size = format_angle(abs(by_deg), decimals)
    if size == "0°":
        return _("no turn")
    if by_deg > 0:
        return _("left {size}", size=numeral(size))
    return _("right {size}", size=numeral(size))


def side_word(signed: float) -> str:
    """``"left"`` for a positive turn or lateral offset, ``"right"`` for a negative one, ``"straight"`` for none.

    Examples
    --------
    >>> side_word(3.0), side_word(-0.5), side_word(0.0)
    ('left', 'right', 'straight')
    """
    if signed == 0:
        return _("straight")
    return _("left") if signed > 0 else _("right")
