"""The sheet on which measured runs are entered: rows of cells that keep what was typed, with a word on each bad one."""

from __future__ import annotations

import codecs
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.errors import ClassroomCode
from classroom.robots.kinds.kind import CalibrationKind, SheetColumn
from classroom.site.figures import in_own_digits, length_said
from motion.calibration import RunsTable, read_runs_csv
from motion.errors import MotionError, UnitError
from motion.units import format_length, parse_angle, parse_length

MORE_ROWS, MOST_ROWS = 4, 200
MOST_KB = 200


WAYS = (("cw", gettext_lazy("right")), ("ccw", gettext_lazy("left")))


@dataclass
class SheetCell:
    column: SheetColumn
    text: str = ""
    error: str = ""
    value: Any = None
    id: str = ""


@dataclass
class SheetRow:
    number: int
    cells: list[SheetCell]
    stands_out: bool = False

    @property
    def empty(self) -> bool:
        return not any(cell.text for cell in self.cells if cell.column.holds != "way")


@dataclass
class RunSheet:
    """Rows as typed. ``runs`` holds what they say once ``read`` found no error."""

    kind: CalibrationKind[Any]
    unit: str
    rows: list[SheetRow] = field(default_factory=list)
    side: SheetCell | None = None
    problems: list[str] = field(default_factory=list)

    @classmethod
    def blank(cls, kind: CalibrationKind[Any], unit: str) -> RunSheet:
        sheet = cls(kind, unit)
        sheet._take([{} for _ in range(kind.blank_rows)], "")
        return sheet

    @classmethod
    def typed(cls, kind: CalibrationKind[Any], unit: str, data: Mapping[str, Any], *, more: int = 0) -> RunSheet:
        """From a form's data: cells are named ``run-3-measured``."""
        try:
            count = int(data.get("rows", kind.blank_rows))
        except ValueError:
            count = kind.blank_rows
        count = min(max(count, 1) + more, MOST_ROWS)
        names = [column.name for column in kind.columns]
        sheet = cls(kind, unit)
        sheet._take(
            [{name: str(data.get(f"run-{i}-{name}", ""))[:40] for name in names} for i in range(count)],
            str(data.get("side", ""))[:40],
        )
        return sheet

    @classmethod
    def pasted(cls, kind: CalibrationKind[Any], unit: str, text: str, side: str = "") -> RunSheet:
        """From CSV text; lines that cannot be used are named in ``problems``.

        Raises
        ------
        MotionError
            When nothing of it can be read.
        """
        table = read_runs_csv(text, kind.columns, unit)
        sheet = cls(kind, unit)
        rows = _rows_of(table, kind.columns, unit)
        sheet.problems = [
            _("Line %(line)s: %(problem)s") % {"line": p.line, "problem": p.message} for p in table.problems[:20]
        ]
        if len(rows) > MOST_ROWS:
            sheet.problems.append(
                _("Only the first %(most)s runs are taken; the most useful are the newest.") % {"most": MOST_ROWS}
            )
        sheet._take(rows[:MOST_ROWS], side)
        return sheet

    @classmethod
    def kept(cls, kind: CalibrationKind[Any], unit: str, runs: Sequence[Mapping[str, Any]]) -> RunSheet:
        """The runs of a calibration, for reading."""
        sheet = cls(kind, unit)
        side_mm = runs[0].get(kind.side.key) if runs and kind.side else None
        side = "" if side_mm is None else length_said(side_mm, unit)
        sheet._take([{c.name: _written(c, run.get(c.key), unit) for c in kind.columns} for run in runs], side)
        return sheet

    def _take(self, rows: Sequence[Mapping[str, str]], side: str) -> None:
        for number, typed in enumerate(rows):
            cells = [
                SheetCell(
                    column,
                    typed.get(column.name, "").strip() or self._first_way(column, number),
                    id=f"run-{number}-{column.name}",
                )
                for column in self.kind.columns
            ]
            self.rows.append(SheetRow(number, cells))
        if self.kind.side is not None:
            self.side = SheetCell(self.kind.side, side.strip(), id="side")

    def _first_way(self, column: SheetColumn, number: int) -> str:
        """Half of the rows of an empty sheet go one way, the rest the other."""
        return "" if column.holds != "way" else "cw" if number < self.kind.blank_rows // 2 else "ccw"

    @property
    def columns(self) -> tuple[SheetColumn, ...]:
        return self.kind.columns

    @property
    def column_names(self) -> str:
        """As the heading of a CSV file has them."""
        return ", ".join(column.name for column in self.columns)

    @property
    def has_errors(self) -> bool:
        cells = [cell for row in self.rows for cell in row.cells] + ([self.side] if self.side else [])
        return any(cell.error for cell in cells)

    @property
    def has_wrong(self) -> bool:
        """Something typed is wrong, rather than not typed yet: that is said at once."""
        cells = [cell for row in self.rows for cell in row.cells] + ([self.side] if self.side else [])
        return any(cell.error and cell.text for cell in cells)

    def read(self) -> list[dict[str, Any]]:
        """The runs in mm and degrees; each bad cell gets its word. Empty rows are left out."""
        runs = []
        side = {} if self.side is None else {self.side.column.key: self._value(self.side)}
        for row in self.rows:
            if row.empty:
                continue
            values = {cell.column.key: self._value(cell) for cell in row.cells} | side
            _signs_alike(row)
            runs.append({key: value for key, value in values.items() if value is not None})
        return runs

    def mark(self, outliers: Sequence[int]) -> None:
        """Flag the rows of the fit's outliers, counted among the filled ones."""
        filled = [row for row in self.rows if not row.empty]
        for index in outliers:
            filled[index].stands_out = True

    def _value(self, cell: SheetCell) -> Any:
        if not cell.text:
            if cell.column.needed:
                cell.error = _("Fill this in, or empty the whole row.")
            return None
        try:
            cell.value = _read_cell(cell.column.holds, cell.text, self.unit)
        except UnitError as error:
            cell.error = error.message
        return cell.value


def _signs_alike(row: SheetRow) -> None:
    told = row.cells[0]
    for cell in row.cells:
        if cell.column.as_told and not cell.error and (told.value or 0) * (cell.value or 0) < 0:
            cell.error = _(
                "Told %(told)s and came %(came)s: one of them has the wrong sign. To the right has a minus in both."
            ) % {"told": told.text, "came": cell.text}


def _read_cell(holds: str, text: str, unit: str) -> Any:
    if holds == "length":
        return parse_length(text, unit)
    if holds == "way":
        if text not in dict(WAYS):
            raise UnitError(ClassroomCode.UNKNOWN_WAY, _("Choose the way round."))
        return text
    if holds == "number":
        try:
            return parse_angle(text.removesuffix("s"))
        except UnitError:
            raise UnitError(
                ClassroomCode.NOT_A_NUMBER, _("“%(text)s” is not a number of seconds.") % {"text": text[:12]}
            ) from None
    return parse_angle(text)


def _written(column: SheetColumn, value: Any, unit: str) -> str:
    if value is None:
        return ""
    if column.holds == "length":
        return in_own_digits(format_length(value, unit, decimals=2))
    if column.holds == "way":
        return str(dict(WAYS)[value])
    return in_own_digits(f"{value:g}{'°' if column.holds == 'angle' else ''}")


def _rows_of(table: RunsTable, columns: Sequence[SheetColumn], unit: str) -> list[dict[str, str]]:
    rows = []
    for i in range(table.runs):
        row = {}
        for column in columns:
            if column.holds == "way":
                row[column.name] = table.ways[i]
            elif column.name in table.columns:
                value = table.columns[column.name][i]
                row[column.name] = format_length(value, unit, decimals=3) if column.holds == "length" else f"{value:g}"
        rows.append(row)
    return rows


def read_upload(upload: Any, *, most_kb: int = MOST_KB) -> str:
    """Text of an uploaded CSV file, in whichever way a spreadsheet saves it.

    Raises
    ------
    MotionError
        ``too_big`` or ``not_text``.
    """
    if upload.size > most_kb * 1000:
        raise MotionError(
            ClassroomCode.TOO_BIG,
            _("The file is over %(most_kb)s kB. Keep the columns that are asked for, or cut it.")
            % {"most_kb": f"{most_kb:,}"},
        )
    raw = upload.read()
    marked = raw[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
    for encoding in ("utf-16",) if marked else ("utf-8-sig", "cp1252"):
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text
    raise MotionError(ClassroomCode.NOT_TEXT, _("This is no text file; save the table as CSV and choose that."))
