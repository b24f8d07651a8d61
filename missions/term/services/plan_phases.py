"""The plan of a session, set once for a term: its parts and their minutes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import InputError
from classroom.models import Coach, Session, Term
from classroom.people.names import one_line
from classroom.site.clash.mark import mark_of, refuse_changed
from classroom.site.isolated import isolated
from missions.errors import MissionsCode
from missions.models import RotaTurn

LONGEST_NAME = 40
MOST_MINUTES = 180


def phases_mark(term: Term) -> str:
    return mark_of(*[(part["name"], part["minutes"]) for part in term.phases])


@transaction.atomic
def set_phases(
    term: Term, coach: Coach, parts: Sequence[tuple[str, int | None]], *, seen: str | None = None, now: dt.datetime
) -> bool:
    """The parts of every session of a term, in order; exactly one, without minutes, is the runs. None at all: only runs.

    Rotas that were planned for sessions ahead are taken off when the parts change; True if there were any.

    Raises
    ------
    InputError
        ``bad_part``: a name or a number that cannot be; ``no_runs``; ``no_time_left``; ``has_begun``.
    ConflictError
        ``changed_meanwhile``.
    """
    term = Term.objects.select_for_update().get(pk=term.pk)
    subject = f"term:{term.pk}"
    refuse_changed(seen, phases_mark(term), coach.club, subject, ("planned the session",))
    plan: list[dict[str, Any]] = [{"name": _name(name), "minutes": _minutes(name, minutes)} for name, minutes in parts]
    if plan and sum(part["minutes"] is None for part in plan) != 1:
        raise InputError(MissionsCode.NO_RUNS, _("Choose the one part in which the teams run at the tables."))
    # One that a coach ended early is behind us: its rota is a record.
    ahead = Session.objects.filter(term=term, ends_at__gt=now).exclude(run__stopped_at__isnull=False)
    _leave_time(plan, ahead)
    if plan == term.phases:
        return False
    if ahead.filter(run__started_at__isnull=False).exists():
        raise InputError(MissionsCode.HAS_BEGUN, _("A session is on. Change its plan when it is over."))
    term.phases = plan
    term.save(update_fields=["phases"])
    taken, _rows = RotaTurn.objects.filter(session__in=ahead).delete()
    note_in_audit(coach.club, coach, "planned the session", subject, now=now)
    coach.club.touch()
    return taken > 0


def _name(name: str) -> str:
    name = one_line(name)
    if not name or len(name) > LONGEST_NAME:
        raise InputError(
            MissionsCode.BAD_PART,
            _("Give each part a name of 1 to %(most)s letters.") % {"most": LONGEST_NAME},
        )
    return name


def _minutes(name: str, minutes: int | None) -> int | None:
    if minutes is not None and not 1 <= minutes <= MOST_MINUTES:
        raise InputError(
            MissionsCode.BAD_PART,
            _("“%(name)s” takes 1 to %(most)s minutes. Type a number between.")
            % {"name": isolated(name), "most": MOST_MINUTES},
        )
    return minutes


def _leave_time(plan: list[dict[str, Any]], ahead: QuerySet[Session]) -> None:
    """The shortest session ahead still has ten minutes for the runs."""
    fixed = sum(part["minutes"] or 0 for part in plan)
    lengths = [ends - starts for starts, ends in ahead.values_list("starts_at", "ends_at")]
    shortest = min(lengths, default=None)
    if shortest is not None and dt.timedelta(minutes=fixed + 10) > shortest:
        whole = shortest // dt.timedelta(minutes=1)
        words = _(
            "The parts take %(fixed)s minutes, and a session ahead has %(whole)s: too little is left for the"
            " runs. Make one shorter."
        ) % {"fixed": fixed, "whole": whole}
        raise InputError(MissionsCode.NO_TIME_LEFT, words)
