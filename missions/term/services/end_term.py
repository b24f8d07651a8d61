"""The end of a term: what was done is set aside and kept, teams and robots go on afresh. In one transaction.

A team that goes on is a new team of the same name with the same children and the same robot: nothing is open to it and it
has no runs, so that no evidence of the old term speaks for the new one. The old team is archived with all it did.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import InputError
from classroom.models import AuditEntry, Club, Coach, Membership, RobotAssignment, Team, Term
from classroom.records.archive.write import TOOK_ARCHIVE
from classroom.site.clash.mark import mark_of, refuse_stale
from classroom.teams.services.keep_team import add_team, archive_team
from missions.day.sessions import sessions_of
from missions.errors import MissionsCode
from missions.term.services.plan_term import add_term

#: An archive that was taken longer ago may lack what came since.
ARCHIVE_COUNTS = dt.timedelta(hours=12)
ENDED = "ended the term"


@dataclass(frozen=True)
class EndedTerm:
    """The new term, the teams that go on, and how many were set aside and do not."""

    term: Term
    teams: tuple[Team, ...]
    left: int


def teams_going_on(club: Club) -> list[Team]:
    return list(Team.objects.filter(club=club).active())


def teams_mark(club: Club) -> str:
    """Of the teams that the page showed: pressed twice, the second finds others."""
    return mark_of(*(team.pk for team in teams_going_on(club)))


def archive_taken_at(club: Club, now: dt.datetime) -> dt.datetime | None:
    """When the club's archive was last taken, if that is not long ago."""
    rows = AuditEntry.objects.filter(club=club, verb=TOOK_ARCHIVE, at__gt=now - ARCHIVE_COUNTS)
    return rows.order_by("-at").values_list("at", flat=True).first()


@transaction.atomic
def end_term(
    lead: Coach,
    carried: set[int],
    *,
    name: str,
    starts_on: dt.date,
    ends_on: dt.date,
    seen: str | None = None,
    now: dt.datetime,
) -> EndedTerm:
    """All of it or nothing.

    Parameters
    ----------
    carried
        The keys of the teams that go on; the others are archived and their children are in no team.

    Raises
    ------
    InputError
        ``no_archive``: the club's archive was not taken today. ``session_on``: the club meets just now. As ``add_term``.
    ConflictError
        ``changed_meanwhile``: there are other teams than were shown.
    """
    club = Club.objects.select_for_update().get(pk=lead.club_id)
    refuse_stale(seen, teams_mark(club))
    if archive_taken_at(club, now) is None:
        words = _("Save the club's archive first and keep it safe: it is the only way back to how everything was.")
        raise InputError(MissionsCode.NO_ARCHIVE, words)
    if sessions_of(club).filter(starts_at__lte=now, ends_at__gte=now).exists():
        raise InputError(MissionsCode.SESSION_ON, _("The club meets just now. End the term when the session is over."))
    made = add_term(lead, name, starts_on, ends_on)
    before = teams_going_on(club)
    going = []
    for team in before:
        if team.pk in carried:
            going.append(_goes_on(team, lead, now))
        else:
            archive_team(team, lead, now=now)
    note_in_audit(club, lead, ENDED, f"term:{made.pk}", now=now)
    club.touch()
    return EndedTerm(made, tuple(going), len(before) - len(going))


def _goes_on(team: Team, lead: Coach, now: dt.datetime) -> Team:
    """Its code and PIN are new: what opened the old team's rows opens nothing more."""
    today = timezone.localdate(now)
    children = list(Membership.objects.filter(team=team, left_on=None).order_by("joined_on", "pk"))
    held = RobotAssignment.objects.filter(team=team, to_on=None).first()
    archive_team(team, lead, now=now)
    fresh, _pin = add_team(team.club, lead, team.name, now=now)
    fresh.order = team.order
    fresh.save(update_fields=["order"])
    Membership.objects.bulk_create(Membership(member_id=row.member_id, team=fresh, joined_on=today) for row in children)
    if held is not None:
        RobotAssignment.objects.create(robot_id=held.robot_id, team=fresh, from_on=today)
    return fresh
