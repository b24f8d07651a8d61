"""What a mend says: a change, and that there is a way with it."""

from __future__ import annotations

from motion.course.sentences import _, numeral
from motion.units import format_length, in_digits


def size_words(mm: float) -> str:
    """A change's size, in cm.

    >>> size_words(35.0)
    '3.5 cm'
    """
    return numeral(format_length(mm, "cm"))


def moved(thing: str, mm: float, edge: str) -> str:
    """``thing`` with its article; towards one of the table's edges.

    >>> moved("the dyke", 30.0, "the near edge")
    'Move the dyke 3 cm towards the near edge, and there is a way.'
    """
    return _("Move {thing} {size} towards {edge}, and there is a way.", thing=thing, size=size_words(mm), edge=edge)


def shortened(thing: str, mm: float, edge: str) -> str:
    """At the end that is towards an edge.

    >>> shortened("the dyke", 30.0, "the near edge")
    'Make the dyke 3 cm shorter at its end towards the near edge, and there is a way.'
    """
    size = size_words(mm)
    return _(
        "Make {thing} {size} shorter at its end towards {edge}, and there is a way.", thing=thing, size=size, edge=edge
    )


def started_further(mm: float, edge: str) -> str:
    """The start moved.

    >>> started_further(30.0, "the near edge")
    'Start 3 cm further towards the near edge, and there is a way.'
    """
    return _("Start {size} further towards {edge}, and there is a way.", size=size_words(mm), edge=edge)


def larger_base(mm: float) -> str:
    """On every side.

    >>> larger_base(30.0)
    'Make the base 3 cm larger all round, and there is a way.'
    """
    return _("Make the base {size} larger all round, and there is a way.", size=size_words(mm))


def smaller_margin(lower: int, margin_mm: float) -> str:
    """In whole millimetres.

    >>> smaller_margin(8, 10.0)
    'Ask for a margin of 8 mm in place of 10, and there is a way.'
    """
    now = numeral(in_digits(margin_mm, 3))
    return _("Ask for a margin of {lower} mm in place of {now}, and there is a way.", lower=lower, now=now)


def finer_steps(length_mm: float, turn_deg: float) -> str:
    """Steps that would do.

    >>> finer_steps(5.0, 15.0), finer_steps(100.0, 45.0)
    ('Steps of 5 mm and 15° would do.', 'Steps of 10 cm and 45° would do.')
    """
    length = f"{in_digits(length_mm, 3)} mm" if length_mm < 10 else f"{in_digits(length_mm / 10, 3)} cm"
    return _("Steps of {size} and {turn}° would do.", size=numeral(length), turn=numeral(in_digits(turn_deg, 3)))
