"""Slips to hand out: a link a child, for the whole club at once, from one seed that only the coach's browser holds."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet

from classroom.families.share_summary import make_link, revoke_link, token_of
from classroom.models import Club, Coach, Member, Membership, SummaryLink
from classroom.site.tokens import digest_of


@dataclass(frozen=True)
class Slip:
    link: SummaryLink
    member: Member
    token: str


def members_now(club: Club) -> QuerySet[Membership]:
    """Every child that is in a team now, team by team."""
    rows = Membership.objects.filter(team__club=club, team__archived_at=None, left_on=None)
    return rows.select_related("member__club", "team").order_by("team__order", "team__name", "member__nickname", "pk")


def without_link(club: Club, now: dt.datetime) -> QuerySet[Membership]:
    """Those of them that have no open link."""
    opens = SummaryLink.objects.filter(member=OuterRef("member"), revoked_at=None, expires_at__gt=now)
    return members_now(club).filter(~Exists(opens))


@transaction.atomic
def make_slips(coach: Coach, seed: str, *, everyone: bool, now: dt.datetime, ends_at: dt.datetime | None = None) -> int:
    """A link for each child without one; with ``everyone`` for all, and the links that they had end. How many.

    Raises
    ------
    InputError
        ``link_end``, as for :func:`make_link`.
    """
    club = coach.club
    rows = list(members_now(club) if everyone else without_link(club, now))
    had = SummaryLink.objects.filter(member__in=[row.member_id for row in rows], revoked_at=None, expires_at__gt=now)
    for link in had.select_related("member__club"):
        revoke_link(link, coach, now=now)
    for row in rows:
        make_link(row.member, coach, now=now, seed=seed, ends_at=ends_at)
    return len(rows)


def slips_of(club: Club, seed: str, now: dt.datetime) -> list[Slip]:
    """The slips that were made from a seed and still open something, team by team."""
    children = [row.member for row in members_now(club)]
    known = {row.pk for row in children}
    children += [row for row in Member.objects.filter(club=club).select_related("club") if row.pk not in known]
    tokens = {digest_of(token): token for token in (token_of(seed, child) for child in children)}
    links = SummaryLink.objects.filter(
        member__club=club, token_digest__in=list(tokens), revoked_at=None, expires_at__gt=now
    )
    found = {link.member_id: link for link in links}
    return [
        Slip(link, child, tokens[link.token_digest]) for child in children if (link := found.get(child.pk)) is not None
    ]
