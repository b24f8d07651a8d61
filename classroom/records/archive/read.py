"""An archive from wherever, looked through before a row of it is used: its sum, its version, its bounds."""

from __future__ import annotations

import datetime as dt
import gzip
import json
import uuid
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO, Any, NoReturn

from classroom.errors import ClassroomCode, InputError
from classroom.records.archive.seal import is_made_here, new_sum
from classroom.records.archive.shape import FORMAT, known_migrations

#: Unpacked; a club with 100,000 runs has some 40 MB.
MOST_BYTES = 2_000_000_000
#: A line is a row. The longest are missions' versions, whose documents are held under a megabyte each.
MOST_BYTES_OF_LINE = 8_000_000

NOTHING = "Nothing was changed."
_NO_ARCHIVE = f"This file is no club's archive. {NOTHING}"
_NEWER = f"This archive was made by a newer helmroom. Bring this one up to date first, then try again. {NOTHING}"
_DAMAGED = f"This archive is damaged: its sum is not the one that it was made with. Fetch it again. {NOTHING}"


@dataclass(frozen=True)
class ArchiveHead:
    """What an archive says of itself, its sum having been worked out anew."""

    club: uuid.UUID
    made_at: dt.datetime
    counts: dict[str, int]
    digest: str
    made_here: bool


@dataclass(frozen=True)
class ArchivedRow:
    """``fields`` is the same tuple for all rows of a kind; ``values`` are as JSON had them."""

    kind: str
    fields: tuple[str, ...]
    values: list[Any]


def look_through(file: IO[bytes]) -> ArchiveHead:
    """Read it once, rows unread, and see that it is whole.

    Raises
    ------
    InputError
        ``not_an_archive``, ``archive_newer``, ``archive_damaged``, ``too_big``.
    """
    lines = _lines(file)
    first = next(lines, b"")
    head = parse_line(first) if first.startswith(b"{") else None
    if not isinstance(head, dict) or not str(head.get("format", "")).startswith(FORMAT.rpartition("/")[0] + "/"):
        raise InputError(ClassroomCode.NOT_AN_ARCHIVE, _NO_ARCHIVE)
    if head["format"] != FORMAT:
        raise InputError(ClassroomCode.ARCHIVE_NEWER, _NEWER)
    total = new_sum()
    counts: dict[str, int] = {}
    kind, held, end = "", first, None
    for line in lines:
        if end is not None:
            raise InputError(ClassroomCode.ARCHIVE_DAMAGED, _DAMAGED)
        total.update(held)
        held = line
        if line.startswith(b"["):
            counts[kind] = counts.get(kind, 0) + 1
            continue
        told = parse_line(line)
        if not isinstance(told, dict):
            raise InputError(ClassroomCode.ARCHIVE_DAMAGED, _DAMAGED)
        if "end" in told:
            end = told
        else:
            kind = str(told.get("rows"))
            counts.setdefault(kind, 0)
    return _sealed(head, end, counts, total.hexdigest())


def rows_in(file: IO[bytes]) -> Iterator[ArchivedRow]:
    """The rows, kind by kind, of an archive that was looked through."""
    kind, fields = "", tuple[str, ...]()
    for line in _lines(file):
        told = parse_line(line)
        if isinstance(told, list):
            yield ArchivedRow(kind, fields, told)
        elif isinstance(told, dict) and "rows" in told:
            kind, fields = _a_kind(told)


def parse_line(line: bytes) -> Any:
    """JSON from outside: no key twice, no NaN; nested too deep is refused, not followed."""
    try:
        return json.loads(line, object_pairs_hook=_without_twins, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise InputError(ClassroomCode.ARCHIVE_DAMAGED, _DAMAGED) from error


def _lines(file: IO[bytes]) -> Iterator[bytes]:
    size = 0
    try:
        with gzip.GzipFile(fileobj=file, mode="rb") as packed:
            while line := packed.readline(MOST_BYTES_OF_LINE + 1):
                size += len(line)
                if len(line) > MOST_BYTES_OF_LINE or size > MOST_BYTES:
                    words = f"This archive is larger than any club's: more than {MOST_BYTES // 10**9} GB unpacked, or in one row "
                    words += f"more than {MOST_BYTES_OF_LINE // 10**6} MB. {NOTHING}"
                    raise InputError(ClassroomCode.TOO_BIG, words)
                yield line
    except EOFError as error:
        words = f"This archive is cut off: its end is missing. Fetch it again. {NOTHING}"
        raise InputError(ClassroomCode.ARCHIVE_DAMAGED, words) from error
    except gzip.BadGzipFile as error:
        if size:
            raise InputError(ClassroomCode.ARCHIVE_DAMAGED, _DAMAGED) from error
        raise InputError(ClassroomCode.NOT_AN_ARCHIVE, _NO_ARCHIVE) from error
    except zlib.error as error:
        raise InputError(ClassroomCode.ARCHIVE_DAMAGED, _DAMAGED) from error


def _is_known(made_with: dict[str, Any]) -> bool:
    """Whether each of its migrations is one of ours."""
    return {(app, str(migration)) for app, migration in made_with.items()} <= known_migrations()


def _sealed(head: dict[str, Any], end: dict[str, Any] | None, counts: dict[str, int], digest: str) -> ArchiveHead:
    if end is None:
        words = f"This archive is cut off: its last line is missing. Fetch it again. {NOTHING}"
        raise InputError(ClassroomCode.ARCHIVE_DAMAGED, words)
    signature = end.get("signature")
    if end.get("sum") != digest or end.get("end") != counts or not isinstance(signature, str):
        raise InputError(ClassroomCode.ARCHIVE_DAMAGED, _DAMAGED)
    if not isinstance(head.get("made_with"), dict) or not _is_known(head["made_with"]):
        raise InputError(ClassroomCode.ARCHIVE_NEWER, _NEWER)
    try:
        club, made_at = uuid.UUID(head["club"]), dt.datetime.fromisoformat(head["made_at"])
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise InputError(ClassroomCode.NOT_AN_ARCHIVE, _NO_ARCHIVE) from error
    return ArchiveHead(club, made_at, counts, digest, is_made_here(digest, signature))


def _a_kind(told: dict[str, Any]) -> tuple[str, tuple[str, ...]]:
    fields = told.get("fields")
    if not isinstance(told["rows"], str) or not isinstance(fields, list) or not all(isinstance(f, str) for f in fields):
        raise InputError(ClassroomCode.ARCHIVE_DAMAGED, _DAMAGED)
    return told["rows"], tuple(fields)


def _without_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key twice")
    return found


def _no_constant(word: str) -> NoReturn:
    raise ValueError(word)
