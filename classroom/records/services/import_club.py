"""A club comes in from an archive: all of it in one transaction, or nothing.

Rows get numbers of this installation; links between them are kept, and so are UUIDs. Whoever hands an archive over is
trusted with what stands in it: it is for whoever runs the installation, by command, never by a page.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import groupby, islice
from typing import IO, Any

from django.contrib.auth.hashers import make_password
from django.db import DataError, IntegrityError, models, transaction

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.models import Club, Coach, Team, User
from classroom.records.archive.cells import CellError, read_cell, renumber
from classroom.records.archive.read import NOTHING, ArchiveHead, look_through, rows_in
from classroom.records.archive.seal import same_sum
from classroom.records.archive.shape import CODED, ArchivedKind, archived_kinds
from classroom.teams.services.join_codes import unused_join_code

#: Written to the database at a time.
BATCH = 1000
CAME_IN = "came in from an archive"


@dataclass(frozen=True)
class CameIn:
    """``to_let_in`` are coaches whose account was made by this: they need a password. ``known`` had an account here."""

    club: Club
    head: ArchiveHead
    to_let_in: list[Coach]
    known: list[Coach]

    @property
    def rows(self) -> int:
        return sum(self.head.counts.values())


def import_club(file: IO[bytes], *, said_sum: str = "", now: dt.datetime) -> CameIn:
    """
    Parameters
    ----------
    said_sum
        What whoever made the archive says that its sum is; empty where nobody was asked.

    Raises
    ------
    InputError
        ``not_an_archive``, ``archive_newer``, ``archive_damaged``, ``too_big``, ``other_sum``, ``archive_unfit``.
    ConflictError
        ``there_already``.
    """
    head = look_through(file)
    if said_sum and not same_sum(head.digest, said_sum):
        words = f"This is not the archive that you were told of: its sum is another, or you typed less than all of it. {NOTHING}"
        raise InputError(ClassroomCode.OTHER_SUM, words)
    file.seek(0)
    try:
        with transaction.atomic():
            if Club.objects.filter(uuid=head.club).exists():
                raise ConflictError(ClassroomCode.THERE_ALREADY, f"This club is here already. {NOTHING}")
            writer = _Writer()
            club = writer.write(file, head)
            note_in_audit(club, None, CAME_IN, now=now)
    except (IntegrityError, DataError) as error:
        raise _unfit("what is in it does not fit together, or is here already in another club") from error
    coaches = list(Coach.objects.select_related("user").filter(club=club, left_at=None).order_by("pk"))
    made = writer.made_users
    return CameIn(
        club, head, [one for one in coaches if one.user_id in made], [one for one in coaches if one.user_id not in made]
    )


def _unfit(why: str) -> InputError:
    return InputError(ClassroomCode.ARCHIVE_UNFIT, f"This archive cannot be used: {why}. {NOTHING}")


class _Writer:
    """``keys`` has, by kind, the numbers of rows here by those of the archive."""

    def __init__(self) -> None:
        self.kinds = {kind.label: kind for kind in archived_kinds()}
        self.keys: dict[str, dict[int, int]] = {_name(kind): {} for kind in archived_kinds()}
        self.made_users: set[int] = set()

    def write(self, file: IO[bytes], head: ArchiveHead) -> Club:
        if head.counts.keys() - self.kinds.keys() or head.counts.get("classroom.Club") != 1:
            raise _unfit("it does not hold one club, or rows that no club has")
        for (label, fields), rows in groupby(rows_in(file), key=lambda row: (row.kind, row.fields)):
            self._write_kind(self.kinds[label], fields, (row.values for row in rows))
        club = Club.objects.filter(uuid=head.club).first()
        if club is None:
            raise _unfit("its club is not the one that its first line names")
        here = {kind.label: kind.rows_of(club).count() for kind in archived_kinds()}
        if here != {label: head.counts.get(label, 0) for label in self.kinds}:
            raise _unfit("after it was read not all of it was there")
        return club

    def _write_kind(self, kind: ArchivedKind, fields: tuple[str, ...], rows: Iterator[list[Any]]) -> None:
        mine, by_name = self.keys[_name(kind)], {field.name: field for field in kind.fields}
        if mine or len(set(fields)) < len(fields) or not by_name.keys() >= set(fields):
            raise _unfit(f"{kind.label} stands twice in it, or has fields that are not known")
        if missing := sorted(name for name in by_name.keys() - set(fields) if not _may_be_missing(by_name[name])):
            raise _unfit(f"{kind.label} lacks {', '.join(missing)}")
        own = {field.name for field in kind.own_links}
        readers = [
            (name, by_name[name].attname, None if name in own else self._reader(kind, by_name[name])) for name in fields
        ]
        later: list[tuple[int, str, int]] = []
        number = 0
        while batch := list(islice(rows, BATCH)):
            made = []
            for values in batch:
                number += 1
                made.append(self._row(kind, readers, values, number, later))
            for at, row in enumerate(self._kept(kind, made), start=number - len(batch) + 1):
                mine[at] = row.pk
        self._link(kind, later)

    def _row(
        self, kind: ArchivedKind, readers: list[Any], values: list[Any], number: int, later: list[tuple[int, str, int]]
    ) -> models.Model:
        if len(values) != len(readers):
            raise _unfit(f"row {number} of {kind.label} has too many values or too few")
        found: dict[str, Any] = {}
        for (name, attname, read), value in zip(readers, values, strict=True):
            if read is None:
                if value is not None:
                    later.append((number, attname, value))
                continue
            try:
                found[attname] = read(value)
            except CellError as error:
                raise _unfit(f"in row {number} of {kind.label}, {name} {error}") from error
        return kind.model(**found)

    def _reader(self, kind: ArchivedKind, field: models.Field[Any, Any]) -> Callable[[Any], Any]:
        if field.is_relation:
            assert isinstance(field.related_model, type)
            there = self.keys[field.related_model._meta.model_name or ""]
            return lambda number: _followed(number, there, null=field.null)
        if field.name in CODED.get(kind.label, ()):
            read = read_cell(field)
            return lambda text: renumber(read(text), self.keys)
        return read_cell(field)

    def _kept(self, kind: ArchivedKind, made: list[Any]) -> list[Any]:
        if kind.model is User:
            return [self._account(user) for user in made]
        if kind.model is Team:
            for team in made:  # the printed cards of elsewhere open nothing here
                team.join_code, team.pin_hash = unused_join_code(), make_password(None)
        return kind.model._base_manager.bulk_create(made)

    def _account(self, user: User) -> User:
        """An account that is here already stays as it is, with its own name and password."""
        known = User.objects.filter(email__iexact=user.email).first()
        if known is not None:
            return known
        user.email = user.username = user.email.lower()
        user.set_unusable_password()
        user.save()
        self.made_users.add(user.pk)
        return user

    def _link(self, kind: ArchivedKind, later: list[tuple[int, str, int]]) -> None:
        """Links to rows of the same kind, once all of them are there."""
        mine, manager = self.keys[_name(kind)], kind.model._base_manager
        for first in range(0, len(later), BATCH):
            changed: dict[int, models.Model] = {}
            for number, attname, other in later[first : first + BATCH]:
                row = changed.setdefault(number, kind.model(pk=mine[number]))
                setattr(row, attname, _followed_within(other, mine, number, kind))
            names = sorted({attname for _, attname, _ in later[first : first + BATCH]})
            manager.bulk_update(changed.values(), [kind.model._meta.get_field(n).name for n in names])


def _name(kind: ArchivedKind) -> str:
    return kind.model._meta.model_name or ""


def _may_be_missing(field: models.Field[Any, Any]) -> bool:
    """In an archive of before the field was there."""
    return field.null or field.has_default() or field.blank


def _followed(number: Any, there: dict[int, int], *, null: bool) -> int | None:
    if number is None and null:
        return None
    if type(number) is not int or number not in there:
        raise CellError("leads to a row that is not in it")
    return there[number]


def _followed_within(number: Any, there: dict[int, int], at: int, kind: ArchivedKind) -> int | None:
    try:
        return _followed(number, there, null=True)
    except CellError as error:
        raise _unfit(f"in row {at} of {kind.label}, a link {error}") from error
