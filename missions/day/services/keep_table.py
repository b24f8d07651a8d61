"""The tables of the room: added, measured anew, put in order, taken away when they break."""

from __future__ import annotations

import datetime as dt

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.club.services.row_order import move_up
from classroom.errors import ConflictError
from classroom.models import Club, Coach, Session, Table
from classroom.site.clash.mark import mark_of, refuse_changed
from classroom.site.isolated import isolated
from missions.day.services.plan_rota import clock_of, hold_run
from missions.errors import MissionsCode
from missions.models import PlannedMission, RotaTurn
from motion.scene.records import MissingCorner


def table_mark(table: Table) -> str:
    lacks = (table.missing_corner, table.missing_width_mm, table.missing_depth_mm)
    return mark_of(table.name, table.width_mm, table.depth_mm, *lacks)


@transaction.atomic
def add_table(
    club: Club,
    coach: Coach,
    name: str,
    width_mm: float,
    depth_mm: float,
    missing: MissingCorner | None = None,
    *,
    now: dt.datetime,
) -> Table:
    """At the end of the row. ``missing`` is what an L-shaped one lacks.

    Raises
    ------
    ConflictError
        ``name_taken``: also by a table that was taken away; bring that one back.
    """
    last = Table.objects.filter(club=club).aggregate(last=Max("order"))["last"]
    table = Table(club=club, order=0 if last is None else last + 1)
    _write(table, name, width_mm, depth_mm, missing)
    note_in_audit(club, coach, "added table", f"table:{table.pk}", now=now)
    club.touch()
    return table


@transaction.atomic
def change_table(
    table: Table,
    coach: Coach,
    name: str,
    width_mm: float,
    depth_mm: float,
    missing: MissingCorner | None = None,
    *,
    seen: str | None = None,
    now: dt.datetime,
) -> Table:
    """
    Raises
    ------
    ConflictError
        ``name_taken``, ``changed_meanwhile``.
    """
    table = Table.objects.select_for_update(of=("self",)).select_related("club").get(pk=table.pk)
    refuse_changed(seen, table_mark(table), table.club, f"table:{table.pk}", ("changed table",))
    _write(table, name, width_mm, depth_mm, missing)
    note_in_audit(table.club, coach, "changed table", f"table:{table.pk}", now=now)
    table.club.touch()
    return table


@transaction.atomic
def move_table_up(table: Table) -> None:
    """One place earlier in the row; the first stays."""
    move_up(Table.objects.filter(club=table.club_id, retired_at=None), table)


@transaction.atomic
def take_table_away(table: Table, coach: Coach, *, now: dt.datetime) -> int:
    """Nothing is planned at it any more; what was played there stays. Gives how many turns to come were taken off."""
    table.retired_at = now
    table.save(update_fields=["retired_at"])
    taken = 0
    turns = RotaTurn.objects.filter(table=table)
    for session in Session.objects.filter(rota_turns__in=turns, ends_at__gt=now).distinct().order_by("starts_at", "pk"):
        ahead = turns.filter(session=session, slot__gte=clock_of(hold_run(session, now)).first_open(now))
        taken += ahead.filter(team__isnull=False).count()
        ahead.delete()
    for plan in PlannedMission.objects.filter(table=table, session__ends_at__gt=now):
        others = PlannedMission.objects.filter(session=plan.session_id, mission=plan.mission_id).exclude(pk=plan.pk)
        if others.exists():
            plan.delete()
        else:
            plan.table = None
            plan.save(update_fields=["table"])
    note_in_audit(table.club, coach, "took table away", f"table:{table.pk}", now=now)
    table.club.touch()
    return taken


@transaction.atomic
def bring_table_back(table: Table, coach: Coach, *, now: dt.datetime) -> None:
    table.retired_at = None
    table.save(update_fields=["retired_at"])
    note_in_audit(table.club, coach, "brought table back", f"table:{table.pk}", now=now)
    table.club.touch()


def _write(table: Table, name: str, width_mm: float, depth_mm: float, missing: MissingCorner | None) -> None:
    table.name, table.width_mm, table.depth_mm, table.missing = name, width_mm, depth_mm, missing
    try:
        with transaction.atomic():
            table.save()
    except IntegrityError as error:
        words = _(
            "There is a table named %(name)s already. Change that one, bring it back, or choose another name."
        ) % {"name": isolated(name)}
        raise ConflictError(MissionsCode.NAME_TAKEN, words) from error
