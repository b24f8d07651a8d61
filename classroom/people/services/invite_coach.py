"""Coaches come into a club by an invitation: a link in an e-mail, good once and for a week; its digest is kept."""

from __future__ import annotations

import datetime as dt
import secrets

from django.db import transaction
from django.utils import translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError
from classroom.families.share_summary import TOKEN_BYTES
from classroom.models import Club, Coach, Invitation, Role, User
from classroom.people.services.send_link import send_link
from classroom.site.isolated import isolated
from classroom.site.languages import language_of_club
from classroom.site.tokens import digest_of

GOOD_FOR = dt.timedelta(days=7)


@transaction.atomic
def invite_coach(lead: Coach, email: str, role: str, *, now: dt.datetime) -> tuple[Invitation, str]:
    """An invitation and its token. A former open one for the same address is withdrawn.

    Raises
    ------
    ConflictError
        ``there_already``.
    """
    club = lead.club
    if Coach.objects.filter(club=club, user__email__iexact=email, left_at=None).exists():
        raise ConflictError(
            ClassroomCode.THERE_ALREADY, _("This coach is in the club already; change the role in the list.")
        )
    Invitation.objects.filter(club=club, email__iexact=email, accepted_at=None, withdrawn_at=None).update(
        withdrawn_at=now
    )
    token = secrets.token_urlsafe(TOKEN_BYTES)
    invitation = Invitation.objects.create(
        club=club,
        email=email,
        role=role,
        token_digest=digest_of(token),
        invited_by=lead,
        created_at=now,
        expires_at=now + GOOD_FOR,
    )
    note_in_audit(club, lead, "invited coach", f"invitation:{invitation.pk}", now=now)
    return invitation, token


def send_invitation(invitation: Invitation, address: str) -> bool:
    """E-mail the link, in the club's language; whether it went out."""
    with translation.override(language_of_club(invitation.club)):
        names = {
            "coach": isolated(invitation.invited_by),
            "club": isolated(invitation.club.name),
            "role": str(invitation.get_role_display()).lower(),
            "day": date_format(invitation.expires_at, "TWO_DIGIT_DATE_FORMAT"),
        }
        return send_link(
            invitation.email,
            _("%(club)s invites you as a coach") % names,
            "\n".join(
                (
                    _("%(coach)s invites you to %(club)s as %(role)s.") % names,
                    _("This link opens once and until %(day)s:") % names,
                )
            ),
            address,
            _("If you do not know the club, do nothing."),
        )


@transaction.atomic
def withdraw_invitation(invitation: Invitation, lead: Coach, *, now: dt.datetime) -> None:
    if invitation.accepted_at is None and invitation.withdrawn_at is None:
        invitation.withdrawn_at = now
        invitation.save(update_fields=["withdrawn_at"])
        note_in_audit(invitation.club, lead, "withdrew invitation", f"invitation:{invitation.pk}", now=now)


def open_invitation(token: str, *, now: dt.datetime) -> Invitation | None:
    """The invitation that a token opens; None alike when unknown, used, withdrawn or too old."""
    return (
        Invitation.objects.select_related("club")
        .filter(token_digest=digest_of(token), accepted_at=None, withdrawn_at=None, expires_at__gt=now)
        .first()
    )


@transaction.atomic
def accept_invitation(
    invitation: Invitation, *, user: User | None = None, name: str = "", password: str = "", now: dt.datetime
) -> Coach:
    """Join the club as ``user``, or as a new one of the invited address.

    Raises
    ------
    ConflictError
        ``used``: somebody was quicker. ``other_address``: the user has another address. ``sign_in_first``: the
        address has an account.
    """
    fresh = Invitation.objects.select_for_update().filter(pk=invitation.pk, accepted_at=None, withdrawn_at=None)
    if not fresh.update(accepted_at=now):
        raise ConflictError(ClassroomCode.USED, _("This invitation was used or withdrawn. Ask for a new one."))
    if user is None:
        if User.objects.filter(email__iexact=invitation.email).exists():
            raise ConflictError(
                ClassroomCode.SIGN_IN_FIRST, _("This address has an account: sign in, then open the link again.")
            )
        user = User.objects.create_user(
            username=invitation.email.lower(), email=invitation.email.lower(), password=password, first_name=name
        )
    elif user.email.casefold() != invitation.email.casefold():
        raise ConflictError(
            ClassroomCode.OTHER_ADDRESS, _("This invitation is for another address. Sign out and open it again.")
        )
    coach, _made = Coach.objects.update_or_create(
        user=user, club=invitation.club, defaults={"role": invitation.role, "joined_at": now, "left_at": None}
    )
    note_in_audit(invitation.club, coach, "joined as " + invitation.role, f"coach:{coach.pk}", now=now)
    return coach


@transaction.atomic
def change_role(coach: Coach, role: str, lead: Coach, *, now: dt.datetime) -> None:
    """
    Raises
    ------
    ConflictError
        ``last_lead``.
    """
    if role != Role.LEAD:
        _keep_a_lead(coach)
    coach.role = role
    coach.save(update_fields=["role"])
    note_in_audit(coach.club, lead, "changed role", f"coach:{coach.pk}", now=now)


@transaction.atomic
def end_role(coach: Coach, lead: Coach, *, now: dt.datetime) -> None:
    """The coach sees nothing of the club from the next request on.

    Raises
    ------
    ConflictError
        ``last_lead``.
    """
    _keep_a_lead(coach)
    coach.left_at = now
    coach.save(update_fields=["left_at"])
    note_in_audit(coach.club, lead, "ended role", f"coach:{coach.pk}", now=now)


def _keep_a_lead(coach: Coach) -> None:
    Club.objects.select_for_update().get(pk=coach.club_id)
    others = Coach.objects.filter(club=coach.club, role=Role.LEAD, left_at=None).exclude(pk=coach.pk)
    if coach.role == Role.LEAD and not others.exists():
        raise ConflictError(ClassroomCode.LAST_LEAD, _("A club needs a lead coach: make somebody else one first."))
