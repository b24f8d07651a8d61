"""A club written as one archive: gzip of lines of JSON, a row a line, in as little memory for many rows as for few.

The first line says what it is. Each kind of row has a line that names it and its fields, then its rows, numbered from 1 as
they come; a link is the number of the row that it leads to. The last line has the counts, the sum of all lines before it
and its signature. Nothing else tells where it was made, so that a club that was taken elsewhere and back has the same rows.
"""

from __future__ import annotations

import datetime as dt
import gzip
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from classroom.errors import ClassroomCode, ConflictError
from classroom.models import Club
from classroom.records.archive.cells import renumber, write_cell
from classroom.records.archive.one_moment import one_moment
from classroom.records.archive.seal import new_sum, signature_of
from classroom.records.archive.shape import CODED, FORMAT, ArchivedKind, archived_kinds, made_with

#: In the club's log, with the archive's sum.
TOOK_ARCHIVE = "took the club's archive"
#: Read from the database at a time.
CHUNK = 2000

Numbers = dict[str, dict[int, int]]


@dataclass(frozen=True)
class Archived:
    """How many rows of which kind, and the sum that tells this archive from every other."""

    counts: dict[str, int]
    digest: str

    @property
    def rows(self) -> int:
        return sum(self.counts.values())


def export_club(club: Club, out: IO[bytes], *, now: dt.datetime) -> Archived:
    """Write the archive, all of it as it was at one moment.

    Raises
    ------
    ConflictError
        ``other_club``: a row points at what is not the club's.
    """
    with gzip.GzipFile(filename="", mode="wb", compresslevel=6, fileobj=out, mtime=0) as packed:
        lines = _Lines(packed)
        with one_moment():
            club = Club.objects.get(pk=club.pk)
            lines.put({"format": FORMAT, "club": str(club.uuid), "made_at": now.isoformat(), "made_with": made_with()})
            numbers: Numbers = {}
            counts = {kind.label: _put_kind(kind, club, numbers, lines) for kind in archived_kinds()}
        digest = lines.sum.hexdigest()
        lines.put({"end": counts, "sum": digest, "signature": signature_of(digest)})
    return Archived(counts, digest)


class _Lines:
    def __init__(self, out: gzip.GzipFile) -> None:
        self.out, self.sum = out, new_sum()
        self._encode = json.JSONEncoder(
            ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"), check_circular=False
        ).encode

    def put(self, value: Any) -> None:
        line = self._encode(value).encode() + b"\n"
        self.out.write(line)
        self.sum.update(line)


def _put_kind(kind: ArchivedKind, club: Club, numbers: Numbers, lines: _Lines) -> int:
    lines.put({"rows": kind.label, "fields": kind.columns})
    name = kind.model._meta.model_name or ""
    mine = numbers[name] = {}
    if kind.own_links:
        keys = kind.rows_of(club).values_list("pk", flat=True)
        mine.update((key, number) for number, key in enumerate(keys.iterator(CHUNK), start=1))
    writers = [_writer(kind, field, numbers) for field in kind.fields]
    rows = kind.rows_of(club).values_list("pk", *(field.attname for field in kind.fields))
    count = 0
    for count, (key, *values) in enumerate(rows.iterator(CHUNK), start=1):
        mine[key] = count
        lines.put(
            [
                write(value) if write and value is not None else value
                for write, value in zip(writers, values, strict=True)
            ]
        )
    return count


def _writer(kind: ArchivedKind, field: Any, numbers: Numbers) -> Callable[[Any], Any] | None:
    if field.is_relation:
        there = numbers[field.related_model._meta.model_name]

        def link(key: int) -> int:
            if key not in there:
                raise ConflictError(
                    ClassroomCode.OTHER_CLUB,
                    f"A row of {kind.label} leads by its {field.name} to another club; put that right, then try again.",
                )
            return there[key]

        return link
    if field.name in CODED.get(kind.label, ()):
        return lambda text: renumber(text, numbers)
    return write_cell(field)


def export_to_file(club: Club, file: Path, *, now: dt.datetime) -> Archived:
    """Into a file of its owner's alone, which is there when it is whole or not at all.

    Raises
    ------
    ConflictError
        ``there_already``: an archive never replaces a file. ``other_club`` as above.
    """
    if file.exists():
        raise ConflictError(ClassroomCode.THERE_ALREADY, f"{file} is there already; give the archive another name.")
    half = file.with_name(f"{file.name}.half")
    half.unlink(missing_ok=True)
    try:
        half.touch(mode=0o600)
        with half.open("wb") as out:
            made = export_club(club, out, now=now)
        half.rename(file)
    finally:
        half.unlink(missing_ok=True)
    return made
