"""Measured runs from a table in a text file (CSV), with a word for each line that cannot be used."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from motion.calibration.readings import MOST_RUNS
from motion.course.sentences import _
from motion.errors import FitError, MotionCode, UnitError
from motion.units import parse_angle, parse_length, unit_of

_WAYS = {"cw": "cw", "clockwise": "cw", "right": "cw", "ccw": "ccw", "counter-clockwise": "ccw", "left": "ccw"}


Holds = Literal["length", "angle", "number", "way"]


@dataclass(frozen=True)
class RunsColumn:
    """A column of a table of runs: its name in the first line, what its cells hold, whether it must be there."""

    name: str
    holds: Holds
    needed: bool = True


@dataclass(frozen=True)
class LineProblem:
    """A line (counted from 1, the header too) that was left out, and why."""

    line: int
    message: str


@dataclass(frozen=True)
class RunsTable:
    """Runs read from a file, lengths in mm, angles in degrees.

    ``columns`` maps each column that the file has to one value a run; an empty cell in a column that may be empty
    drops the whole column, so that every column has ``runs`` values.
    """

    columns: dict[str, tuple[float, ...]]
    ways: tuple[str, ...]
    problems: tuple[LineProblem, ...]

    @property
    def runs(self) -> int:
        return max((len(column) for column in self.columns.values()), default=0)


def read_runs_csv(text: str, columns: Sequence[RunsColumn], unit: str) -> RunsTable:
    """Read runs from CSV text.

    Commas, semicolons or tabs between cells; the first line names the columns, in any order, or is a run with the
    columns in their order here. A cell may name its own unit.

    Parameters
    ----------
    text
        The file's text; a byte order mark is skipped.
    columns
        What each run has; other columns of the file are left aside.
    unit
        Unit of lengths that name none: ``"mm"``, ``"cm"`` or ``"in"``.

    Raises
    ------
    FitError
        ``empty``, ``too_many``, ``missing_column``, ``no_csv``. Single bad lines are not raised
        but listed in ``problems``.
    UnitError
        ``unknown_unit``.

    Examples
    --------
    >>> columns = (RunsColumn("commanded", "length"), RunsColumn("measured", "length"))
    >>> table = read_runs_csv("60; 59,1\\n60; 58 cm\\n60; long", columns, "cm")
    >>> table.columns
    {'commanded': (600.0, 600.0), 'measured': (591.0, 580.0)}
    >>> table.problems[0].line
    3
    """
    unit_of(unit)
    lines = text.lstrip("\ufeff").splitlines()
    if not any(line.strip() for line in lines):
        raise FitError(MotionCode.EMPTY, _("The file has no runs; put one run on each line."))
    if len(lines) > MOST_RUNS + 1:
        raise FitError(
            MotionCode.TOO_MANY,
            _("The file has {count} lines; the most is {most} runs.", count=len(lines), most=MOST_RUNS),
        )
    first = next(line for line in lines if line.strip())
    delimiter = max(";\t,", key=lambda mark: (first.count(mark) > 0) * (3 - ";\t,".index(mark)))
    try:
        rows = list(csv.reader(lines, delimiter=delimiter))
    except csv.Error as error:
        raise FitError(
            MotionCode.NO_CSV, _("The file is not a table that can be read ({error}); save it as CSV.", error=error)
        ) from None
    numbered = [
        (number, [cell.strip() for cell in row])
        for number, row in enumerate(rows, start=1)
        if any(cell.strip() for cell in row)
    ]
    if not numbered:
        raise FitError(MotionCode.EMPTY, _("The file has no runs; put one run on each line."))
    order, numbered = _order(numbered, columns)
    return _read(numbered, order, columns, unit)


def _order(
    numbered: list[tuple[int, list[str]]], columns: Sequence[RunsColumn]
) -> tuple[dict[str, int], list[tuple[int, list[str]]]]:
    """Which cell holds which column, and the lines that are runs."""
    names = [cell.lower().replace("_", " ").split(" ")[0].split("(")[0] for cell in numbered[0][1]]
    wanted = {column.name: column.needed for column in columns}
    if any(name in wanted for name in names):
        order = {name: names.index(name) for name in wanted if name in names}
        missing = [name for name, must in wanted.items() if must and name not in order]
        if missing:
            raise FitError(
                MotionCode.MISSING_COLUMN,
                _("The column “{name}” is missing; name it in the first line.", name=missing[0]),
            )
        return order, numbered[1:]
    return {name: i for i, name in enumerate(wanted)}, numbered


def _read(
    numbered: list[tuple[int, list[str]]], order: dict[str, int], columns: Sequence[RunsColumn], unit: str
) -> RunsTable:
    kept: dict[str, list[float | None]] = {column.name: [] for column in columns if column.holds != "way"}
    ways: list[str] = []
    problems: list[LineProblem] = []
    for number, cells in numbered:
        try:
            values, way = _line(cells, order, columns, unit)
        except (FitError, UnitError) as error:
            problems.append(LineProblem(number, error.message))
            continue
        for name, value in values.items():
            kept[name].append(value)
        if way:
            ways.append(way)
    full = {
        name: tuple(value for value in values if value is not None)
        for name, values in kept.items()
        if values and None not in values
    }
    return RunsTable(full, tuple(ways), tuple(problems))


def _line(
    cells: list[str], order: dict[str, int], columns: Sequence[RunsColumn], unit: str
) -> tuple[dict[str, float | None], str]:
    values: dict[str, float | None] = {}
    way = ""
    for column in columns:
        name = column.name
        place = order.get(name, len(cells))
        cell = cells[place] if place < len(cells) else ""
        if not cell:
            if column.needed:
                raise FitError(MotionCode.MISSING, _("“{name}” is empty; fill it in or leave the line out.", name=name))
            values[name] = None
        elif cell[0] in "=@" or (cell[0] in "+-" and cell[1:2].isalpha()):
            raise FitError(
                MotionCode.FORMULA, _("“{name}” holds a formula; save the file with values only.", name=name)
            )
        elif column.holds == "way":
            if cell.lower() not in _WAYS:
                raise FitError(
                    MotionCode.UNKNOWN_WAY, _("“{name}” is cw or ccw, the way round that was driven.", name=name)
                )
            way = _WAYS[cell.lower()]
        else:
            values[name] = parse_length(cell, unit) if column.holds == "length" else parse_angle(cell)
    return values, way
