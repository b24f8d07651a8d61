"""Names as typed, and what does not belong in a child's: first name or nickname only, nothing that finds them elsewhere."""

from __future__ import annotations

import re

from django.utils.translation import gettext as _

MOST = 24
_EMAIL = re.compile(r"\S+@\S+\.\S+")
_MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_DATE = re.compile(
    rf"^\s*(\d{{1,4}}[-/.]\d{{1,2}}([-/.]\d{{1,4}})?|\d{{1,2}}[-. ]?({_MONTHS})\w*([-. ]?\d{{2,4}})?|"
    rf"({_MONTHS})\w*[-. ]\d{{1,4}}|\d{{5}})\s*$",
    re.IGNORECASE,
)
_LONG_NUMBER = re.compile(r"\d[\d\s()+-]{5,}")


def one_line(text: str) -> str:
    """Without control characters and doubled spaces."""
    return re.sub(r"\s+", " ", re.sub(r"[\x00-\x1f\x7f\u200e\u200f\u202a-\u202e]", " ", text)).strip()


def refusal(name: str) -> str:
    """Why a name cannot be kept at all, in a sentence; empty when it can."""
    if not name:
        return _("Write a first name or a nickname.")
    if len(name) > MOST:
        return _("A first name or nickname has at most %(most)s letters.") % {"most": MOST}
    if name[0] in "=+@" or (name[0] == "-" and len(name) > 1):
        return _("This looks like a spreadsheet's formula; write the name itself.")
    if _EMAIL.search(name):
        return _("This looks like an e-mail address; write a first name or a nickname.")
    if is_date(name):
        return _("This looks like a date, perhaps changed by the spreadsheet; write the name.")
    if _LONG_NUMBER.search(name):
        return _("This looks like a telephone number; write a first name or a nickname.")
    if not any(letter.isalpha() for letter in name):
        return _("A name has at least one letter in it.")
    return ""


def is_date(text: str) -> bool:
    """Whether it is what a spreadsheet makes of 3/12: a date or its number of days."""
    return _DATE.match(text) is not None


def warning(name: str) -> str:
    """What should be looked at twice, though it may be right; empty when nothing.

    >>> warning("Robin")
    ''
    >>> warning("Robin Saltmarsh")
    'This looks like a full name. A first name or a nickname is enough.'
    """
    words = [word for word in re.split(r"[\s_]+", name.strip()) if word]
    if len(words) >= 2 and sum(len(word.strip(".")) > 1 for word in words) >= 2:
        return _("This looks like a full name. A first name or a nickname is enough.")
    if "," in name:
        return _("This looks like a surname and a first name. A first name or a nickname is enough.")
    return ""
