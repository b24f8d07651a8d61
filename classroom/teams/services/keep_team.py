"""Teams and the children in them, as the club keeps them."""

from __future__ import annotations

import datetime as dt

from django.contrib.auth.hashers import make_password
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.club.services.row_order import move_up
from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.models import Club, Coach, Member, Membership, RobotAssignment, TabletSession, Team
from classroom.people.names import refusal
from classroom.site.clash.mark import mark_of, refuse_changed
from classroom.site.isolated import isolated
from classroom.teams.services.join_codes import new_pin, unused_join_code


def team_mark(team: Team) -> str:
    return mark_of(team.name)


def member_mark(member: Member) -> str:
    """Of a member's nickname and present team."""
    team = Membership.objects.filter(member=member, left_on=None).values_list("team", flat=True).first()
    return mark_of(member.nickname, team)


@transaction.atomic
def add_team(
    club: Club, coach: Coach | None, name: str, *, now: dt.datetime, code_until: dt.datetime | None = None
) -> tuple[Team, str]:
    """A new team and its PIN, which is shown once and then known to nobody.

    Raises
    ------
    ConflictError
        ``name_taken``.
    """
    pin = new_pin()
    try:
        with transaction.atomic():
            team = Team.objects.create(
                club=club,
                name=name,
                join_code=unused_join_code(),
                join_code_expires_at=code_until,
                pin_hash=make_password(pin),
                order=Team.objects.filter(club=club).count(),
            )
    except IntegrityError as error:
        raise ConflictError(
            ClassroomCode.NAME_TAKEN, _("Another team of the club has this name; give it another.")
        ) from error
    note_in_audit(club, coach, "added team", f"team:{team.pk}", now=now)
    club.touch()
    return team, pin


@transaction.atomic
def rename_team(team: Team, coach: Coach, name: str, *, seen: str | None = None, now: dt.datetime) -> None:
    """
    Raises
    ------
    ConflictError
        ``name_taken``, ``changed_meanwhile``.
    """
    fresh = Team.objects.select_for_update().get(pk=team.pk)
    refuse_changed(seen, team_mark(fresh), team.club, f"team:{team.pk}", ("renamed team",))
    if Team.objects.filter(club=team.club, name=name, archived_at=None).exclude(pk=team.pk).exists():
        raise ConflictError(ClassroomCode.NAME_TAKEN, _("Another team of the club has this name; give it another."))
    team.name = name
    team.save(update_fields=["name"])
    note_in_audit(team.club, coach, "renamed team", f"team:{team.pk}", now=now)
    team.club.touch()


@transaction.atomic
def move_team_up(team: Team) -> None:
    """One place earlier in the club's order, which every page keeps; the first stays."""
    move_up(Team.objects.filter(club=team.club_id).active(), team)


@transaction.atomic
def archive_team(team: Team, coach: Coach, *, now: dt.datetime) -> None:
    """The team's records stay; its tablets are signed out, its robot is free, its members leave it."""
    today = timezone.localdate(now)
    team.archived_at = now
    team.save(update_fields=["archived_at"])
    TabletSession.objects.filter(team=team, ended_at=None).update(ended_at=now)
    for assignment in RobotAssignment.objects.filter(team=team, to_on=None):
        assignment.to_on = max(today, assignment.from_on)
        assignment.save(update_fields=["to_on"])
    for membership in Membership.objects.filter(team=team, left_on=None):
        _leave(membership, today)
    note_in_audit(team.club, coach, "archived team", f"team:{team.pk}", now=now)
    team.club.touch()


@transaction.atomic
def reopen_team(team: Team, coach: Coach, *, now: dt.datetime) -> None:
    """
    Raises
    ------
    ConflictError
        ``name_taken``: a newer team has the name.
    """
    if Team.objects.filter(club=team.club, name=team.name, archived_at=None).exists():
        raise ConflictError(ClassroomCode.NAME_TAKEN, _("A newer team has this name; rename that one first."))
    team.archived_at = None
    team.save(update_fields=["archived_at"])
    note_in_audit(team.club, coach, "reopened team", f"team:{team.pk}", now=now)
    team.club.touch()


@transaction.atomic
def add_member(
    team: Team, nickname: str, coach: Coach | None, *, here_since: dt.date | None = None, now: dt.datetime
) -> Member:
    """A child in a team from today on, or from an earlier day that nobody wrote down.

    Raises
    ------
    InputError
        ``not_a_nickname``, ``not_yet``: the day is still to come.
    ConflictError
        ``already_there``.
    """
    _refuse(nickname)
    today = timezone.localdate(now)
    if here_since is not None and here_since > today:
        raise InputError(ClassroomCode.NOT_YET, _("That day is still to come. Choose today or an earlier day."))
    if Membership.objects.filter(team=team, left_on=None, member__nickname=nickname).exists():
        raise ConflictError(
            ClassroomCode.ALREADY_THERE,
            _("%(nickname)s is in %(name)s already; tell two apart by an initial.")
            % {"nickname": isolated(nickname), "name": isolated(team.name)},
        )
    member = Member.objects.create(club=team.club, nickname=nickname)
    Membership.objects.create(member=member, team=team, joined_on=here_since or today)
    note_in_audit(team.club, coach, "added member", f"member:{member.pk}", now=now)
    team.club.touch()
    return member


@transaction.atomic
def change_member(
    member: Member, nickname: str, team: Team | None, coach: Coach, *, seen: str | None = None, now: dt.datetime
) -> None:
    """Name and team at once, or neither.

    Raises
    ------
    InputError
        ``not_a_nickname``, ``other_club``.
    ConflictError
        ``changed_meanwhile``.
    """
    fresh = Member.objects.select_for_update().get(pk=member.pk)
    verbs = ("renamed member", "moved member", "member left")
    refuse_changed(seen, member_mark(fresh), member.club, f"member:{member.pk}", verbs)
    if nickname != fresh.nickname:
        rename_member(member, nickname, coach, now=now)
    move_member(member, team, coach, now=now)


@transaction.atomic
def rename_member(member: Member, nickname: str, coach: Coach, *, now: dt.datetime) -> None:
    _refuse(nickname)
    member.nickname = nickname
    member.save(update_fields=["nickname"])
    note_in_audit(member.club, coach, "renamed member", f"member:{member.pk}", now=now)
    member.club.touch()


@transaction.atomic
def move_member(member: Member, team: Team | None, coach: Coach, *, now: dt.datetime) -> None:
    """To another team from today, or out of any."""
    if team is not None and team.club_id != member.club_id:
        raise InputError(ClassroomCode.OTHER_CLUB, _("This team is not of the child's club."))
    today = timezone.localdate(now)
    current = Membership.objects.filter(member=member, left_on=None).first()
    if current is not None and team is not None and current.team_id == team.pk:
        return
    if current is not None:
        _leave(current, today)
    if team is not None:
        Membership.objects.create(member=member, team=team, joined_on=today)
    note_in_audit(member.club, coach, "moved member" if team else "member left", f"member:{member.pk}", now=now)
    member.club.touch()


def _leave(membership: Membership, today: dt.date) -> None:
    membership.left_on = max(today, membership.joined_on)
    membership.save(update_fields=["left_on"])


def _refuse(nickname: str) -> None:
    if why := refusal(nickname):
        raise InputError(ClassroomCode.NOT_A_NICKNAME, why)
