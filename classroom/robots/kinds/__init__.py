"""The kinds of calibration. To add one: a file like those beside this one, and its line here."""

from __future__ import annotations

from typing import Any

from django.utils.module_loading import import_string
from django.utils.translation import gettext as _

from classroom.errors import ClassroomCode, InputError
from classroom.robots.kinds.kind import CalibrationKind

_IN_ORDER = (
    "classroom.robots.kinds.straight.STRAIGHT",
    "classroom.robots.kinds.spin.SPIN",
    "classroom.robots.kinds.square.SQUARE",
    "classroom.robots.kinds.set_down.SET_DOWN",
    "classroom.robots.kinds.rest_drift.REST_DRIFT",
)

#: By key, in the order in which pages show them.
KINDS: dict[str, CalibrationKind[Any]] = {kind.key: kind for kind in map(import_string, _IN_ORDER)}
#: After one of these other numbers are typed, so that the robot's runs begin anew.
NUMBERING = ("straight", "spin", "square")


def kind_choices() -> list[tuple[str, str]]:
    """(key, label) of each, for a row of buttons."""
    return [(kind.key, kind.label) for kind in KINDS.values()]


def kind_of(key: str) -> CalibrationKind[Any]:
    """The kind of that key.

    Raises
    ------
    InputError
        ``unknown_kind``.
    """
    if key not in KINDS:
        *others, last = (str(kind.called) for kind in KINDS.values())
        raise InputError(
            ClassroomCode.UNKNOWN_KIND,
            _("Choose %(others)s or %(last)s.") % {"others": ", ".join(others), "last": last},
        )
    return KINDS[key]


def key_that_puts_right(parameter: str) -> str:
    """Of the kind to measure when runs miss by that parameter of a diagnosis; empty when measuring does not help."""
    return next((kind.key for kind in KINDS.values() if parameter in kind.puts_right), "")
