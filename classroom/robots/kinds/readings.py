"""The readings of measured runs, one column at a time, as fits want them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _

from classroom.errors import ClassroomCode, InputError
from classroom.robots.kinds.kind import Run


def column(runs: Sequence[Run], key: str) -> list[Any]:
    return [run[key] for run in runs]


def optional_column(runs: Sequence[Run], key: str) -> list[Any] | None:
    """A column that is measured in every run or else in none that counts."""
    values = [run.get(key) for run in runs]
    if all(value is None for value in values):
        return None
    if any(value is None for value in values):
        raise InputError(
            ClassroomCode.HALF_A_COLUMN, _("Fill in the optional reading for every run, or leave it out of all.")
        )
    return values
