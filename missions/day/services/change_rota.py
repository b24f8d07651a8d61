"""A coach's hand in the rota: what it sets stays when the rota is solved again."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.errors import InputError
from classroom.models import Session, Table, Team
from classroom.site.clash.mark import mark_of, refuse_stale
from classroom.site.isolated import isolated
from missions.access import get_turn
from missions.day.pages.teams import DayTeam, teams_of_day
from missions.day.services.plan_rota import clock_of, hold_run, large_enough, refuse_away, refuse_closed, run_of
from missions.errors import MissionsCode
from missions.models import RotaTurn


def place_mark(turn: RotaTurn | None) -> str:
    """Of a place as a coach was shown it: who stands there, and whether by hand."""
    return mark_of(turn.team_id, turn.by_hand) if turn else mark_of(None)


@transaction.atomic
def set_place(
    session: Session, *, slot: int, table: Table, team: Team | None, seen: str | None = None, now: dt.datetime
) -> RotaTurn:
    """Put a team at a table for a slot, or keep the place free (no team).

    A team that had another table in this slot leaves it; a team that stood in the place gives it up.

    Raises
    ------
    InputError
        ``slot_over``, ``no_such_slot``, ``table_away``, ``not_here``, ``table_too_small``, ``robot_taken``, and those of
        a session that has ended or is cancelled.
    ConflictError
        ``changed_meanwhile``: the place is not as ``seen``.
    """
    _open_slot(session, slot, now)
    refuse_away(table)
    there = RotaTurn.objects.select_related("team").filter(session=session, slot=slot, table=table).first()
    if there and there.team:
        changed = _("Somebody changed this place: %(team)s stand there now.") % {"team": isolated(there.team)}
    elif there:
        changed = _("Somebody changed this place: It is kept free now.")
    else:
        changed = _("Somebody changed this place: Nobody stands there now.")
    refuse_stale(seen, place_mark(there), changed)
    others = list(RotaTurn.objects.select_for_update().filter(session=session, slot=slot).exclude(table=table))
    found = _team_here(session, team, others, table, slot, now) if team else None
    RotaTurn.objects.filter(session=session, slot=slot, table=table).delete()
    if team is not None:
        RotaTurn.objects.filter(session=session, slot=slot, team=team).delete()
    made = RotaTurn.objects.create(
        session=session,
        slot=slot,
        table=table,
        team=team,
        tier=found.tier if found else None,
        layout=found.layout if found else "",
        by_hand=True,
    )
    session.term.club.touch()
    return made


@transaction.atomic
def move_turn(turn: RotaTurn, *, slot: int, table: Table, now: dt.datetime) -> RotaTurn:
    """Move a team's turn to another place; a team that stands there takes the place that becomes free.

    Raises
    ------
    InputError
        As ``set_place``, for either of the two teams.
    ConflictError
        ``turn_gone``: another coach moved it, or the rota was planned anew.
    """
    session = turn.session
    _open_slot(session, turn.slot, now)
    turn = get_turn(session, turn.pk)  # as it is now that nobody else changes the rota
    there = RotaTurn.objects.filter(session=session, slot=slot, table=table).exclude(pk=turn.pk).first()
    team, old_slot, old_table = turn.team, turn.slot, turn.table
    other = there.team if there else None
    turn.delete()
    if there is not None:
        there.delete()
    made = set_place(session, slot=slot, table=table, team=team, now=now)
    if other is not None and other != team:
        set_place(session, slot=old_slot, table=old_table, team=other, now=now)
    return made


@transaction.atomic
def let_go(turn: RotaTurn, *, now: dt.datetime) -> None:
    """Give a place that was set by hand back to the planner: a team's turn loses its mark, a free place is open again."""
    _open_slot(turn.session, turn.slot, now)
    if turn.team_id is None:
        turn.delete()
    else:
        RotaTurn.objects.filter(pk=turn.pk).update(by_hand=False)
    turn.session.term.club.touch()


def _open_slot(session: Session, slot: int, now: dt.datetime) -> None:
    run = hold_run(session, now)
    refuse_closed(run)
    day = clock_of(run)
    if not 0 <= slot < day.count:
        raise InputError(MissionsCode.NO_SUCH_SLOT, _("The session has no such slot. Choose one of the list."))
    if slot < day.slot_at(now):
        raise InputError(MissionsCode.SLOT_OVER, _("That slot is over. Choose the present one or a later one."))


def _team_here(
    session: Session, team: Team, others: list[RotaTurn], table: Table, slot: int, now: dt.datetime
) -> DayTeam:
    of_team = {day.team.pk: day for day in teams_of_day(session)}
    found = of_team.get(team.pk)
    if found is None or not found.is_here or found.tier_version is None:
        raise InputError(
            MissionsCode.NOT_HERE,
            _("%(team)s are not here. Mark them as here first, or publish a mission for them.")
            % {"team": isolated(team)},
        )
    day = clock_of(run_of(session, now))
    if found.late_until is not None and day.starts(slot) < found.late_until:
        raise InputError(
            MissionsCode.NOT_HERE,
            _("%(team)s come later than that slot. Choose a later one.") % {"team": isolated(team)},
        )
    version = found.tier_version.version
    if not large_enough(table, version):
        raise InputError(
            MissionsCode.TABLE_TOO_SMALL,
            _("%(table)s is too small for %(mission)s. Choose another table.")
            % {"table": isolated(table), "mission": isolated(version.mission)},
        )
    if found.robot is not None:
        for row in others:
            other = of_team.get(row.team_id) if row.team_id != team.pk else None  # type: ignore[arg-type]
            if other is not None and other.robot is not None and other.robot.pk == found.robot.pk:
                words = _("%(robot)s is with %(team)s in that slot. Choose another slot.") % {
                    "robot": isolated(found.robot),
                    "team": isolated(other.team),
                }
                raise InputError(MissionsCode.ROBOT_TAKEN, words)
    return found
