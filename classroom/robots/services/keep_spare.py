"""The list of spares: kept, counted, used up by a robot's service, filled up again."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.models import Club, Coach, ServiceNote, Spare
from classroom.site.clash.mark import mark_of, refuse_changed
from classroom.site.isolated import isolated

MOST = 10_000


@dataclass(frozen=True)
class SpareLine:
    """A spare as a coach types it."""

    name: str
    on_hand: int
    least: int
    place: str = ""


def spare_mark(spare: Spare) -> str:
    return mark_of(spare.name, spare.on_hand, spare.least, spare.place)


@transaction.atomic
def add_spare(club: Club, coach: Coach, line: SpareLine, *, now: dt.datetime) -> Spare:
    """
    Raises
    ------
    ConflictError
        ``name_taken``.
    """
    spare = Spare(club=club)
    _write(spare, line)
    note_in_audit(club, coach, "added spare", f"spare:{spare.pk}", now=now)
    club.touch()
    return spare


@transaction.atomic
def change_spare(spare: Spare, coach: Coach, line: SpareLine, *, seen: str | None = None, now: dt.datetime) -> Spare:
    """What it is called, what was counted, how few are too few, where it lies.

    Raises
    ------
    ConflictError
        ``name_taken``, ``changed_meanwhile`` (also by a robot's service that used some).
    """
    spare = lock_spare(spare)
    refuse_changed(seen, spare_mark(spare), spare.club, f"spare:{spare.pk}", ("changed spare", "filled up spare"))
    _write(spare, line)
    note_in_audit(spare.club, coach, "changed spare", f"spare:{spare.pk}", now=now)
    spare.club.touch()
    return spare


@transaction.atomic
def fill_up(spare: Spare, coach: Coach, count: int, *, now: dt.datetime) -> Spare:
    """New ones came in: added to what lies there, whoever else is counting.

    Raises
    ------
    InputError
        ``how_many``.
    """
    spare = lock_spare(spare)
    if not 1 <= count <= MOST or spare.on_hand + count > MOST:
        raise InputError(
            ClassroomCode.HOW_MANY,
            _("Type how many came in, from 1 to at most %(most)s in all.") % {"most": f"{MOST:,}"},
        )
    spare.on_hand += count
    spare.save(update_fields=["on_hand"])
    note_in_audit(spare.club, coach, "filled up spare", f"spare:{spare.pk}", now=now)
    spare.club.touch()
    return spare


@transaction.atomic
def retire_spare(spare: Spare, coach: Coach, *, now: dt.datetime) -> None:
    """Off the list; notes of what was used stay.

    Raises
    ------
    ConflictError
        ``still_wanted``: a note that is not done takes some of it.
    """
    spare = lock_spare(spare)
    if spare.service_notes.filter(done_on=None).exists():
        raise ConflictError(
            ClassroomCode.STILL_WANTED,
            _("A service note that is not done takes %(spare)s. Finish that note first.") % {"spare": spare},
        )
    spare.retired_at = now
    spare.save(update_fields=["retired_at"])
    note_in_audit(spare.club, coach, "took spare off the list", f"spare:{spare.pk}", now=now)
    spare.club.touch()


def use_spares(note: ServiceNote) -> None:
    """What a note takes comes off the list. Call it in the transaction that makes the note done.

    Raises
    ------
    ConflictError
        ``too_few_spares``: the list has fewer, so it is not what lies there.
    """
    if note.spare_id is None:
        return
    enough = Spare.objects.filter(pk=note.spare_id, on_hand__gte=note.spare_count)
    if not enough.update(on_hand=F("on_hand") - note.spare_count):
        left = Spare.objects.get(pk=note.spare_id)
        raise ConflictError(
            ClassroomCode.TOO_FEW_SPARES,
            _(
                "%(spare)s: the list has %(on_hand)s and this takes %(spare_count)s. Count what lies there on the Spares page, then note it again."
            )
            % {"spare": left, "on_hand": left.on_hand, "spare_count": note.spare_count},
        )


def lock_spare(spare: Spare) -> Spare:
    return Spare.objects.select_for_update(of=("self",)).select_related("club").get(pk=spare.pk)


def _write(spare: Spare, line: SpareLine) -> None:
    spare.name, spare.on_hand, spare.least, spare.place = line.name, line.on_hand, line.least, line.place
    try:
        with transaction.atomic():
            spare.save()
    except IntegrityError as error:
        raise ConflictError(
            ClassroomCode.NAME_TAKEN,
            _("%(name)s is on the list already; change that line.") % {"name": isolated(line.name)},
        ) from error
