"""A coach sets the bar: what the readiness rule asks for, in one tier or in the whole club. What it was is kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import InputError, NotAllowedError
from classroom.models import Club, Coach
from classroom.site.clash.mark import mark_of, refuse_changed
from missions.access import current_tier_version
from missions.errors import MissionsCode
from missions.models import BarChange, Tier, TierVersion
from missions.readiness.rules.evidence import ReadinessError
from missions.readiness.services.evidence import refresh_tier, rule_for

LONGEST_REASON = 300


def bar_mark(own: Mapping[str, Any]) -> str:
    """Of what differs from the inherited rule, in a tier or in the club."""
    return mark_of(sorted(own.items()))


@transaction.atomic
def set_tier_bar(
    coach: Coach, tier: Tier, rule: Mapping[str, Any], reason: str, now: dt.datetime, *, seen: str | None = None
) -> TierVersion:
    """Set what differs from the club's rule in the published version of ``tier``; a draft that had the same follows.

    Raises
    ------
    NotAllowedError
        ``observer``, ``other_club``.
    InputError
        ``reason_needed``, ``not_published``, ``same_bar`` or a code of ``missions.readiness.rules.evidence.ReadinessError``.
    ConflictError
        ``changed_meanwhile``.
    """
    if tier.mission.club_id != coach.club_id:
        raise NotAllowedError(MissionsCode.OTHER_CLUB, _("This tier is not of your club."))
    reason = _checked(coach, reason)
    edition = current_tier_version(tier)
    if edition is None:
        raise InputError(
            MissionsCode.NOT_PUBLISHED,
            _("“%(tier)s” is not published yet. Set its bar in the editor.") % {"tier": tier.name},
        )
    edition = TierVersion.objects.select_for_update(of=("self",)).select_related("tier", "version").get(pk=edition.pk)
    refuse_changed(seen, bar_mark(edition.rule), coach.club, f"tier:{tier.pk}", ("changed the bar",))
    before = dict(edition.rule)
    if dict(rule) == before:
        raise InputError(MissionsCode.SAME_BAR, _("That is the bar as it stands. Change a number, or leave it."))
    edition.rule = dict(rule)
    _try(coach.club, edition)
    edition.save(update_fields=["rule"])
    for draft in TierVersion.objects.filter(tier=tier, version__published_at=None):
        if draft.rule == before:
            draft.rule = dict(rule)
            draft.save(update_fields=["rule"])
    _note(coach, edition, before, edition.rule, reason, now)
    refresh_tier(tier, now)
    coach.club.touch()
    return edition


@transaction.atomic
def set_club_bar(
    coach: Coach, policy: Mapping[str, Any], reason: str, now: dt.datetime, *, seen: str | None = None
) -> Club:
    """Set what differs from the default rule in the whole club. For a lead coach.

    Raises
    ------
    NotAllowedError
        ``not_lead``.
    InputError
        ``reason_needed``, ``same_bar`` or a code of ``missions.readiness.rules.evidence.ReadinessError``.
    ConflictError
        ``changed_meanwhile``.
    """
    reason = _checked(coach, reason)
    if coach.role != "lead":
        raise NotAllowedError(MissionsCode.NOT_LEAD, _("Only a lead coach sets the club's bar. Ask one of them."))
    club = Club.objects.select_for_update().get(pk=coach.club_id)
    refuse_changed(seen, bar_mark(club.readiness_policy), club, f"club:{club.pk}", ("changed the bar",))
    before = dict(club.readiness_policy)
    if dict(policy) == before:
        raise InputError(MissionsCode.SAME_BAR, _("That is the bar as it stands. Change a number, or leave it."))
    club.readiness_policy = dict(policy)
    tiers = Tier.objects.select_related("mission__club").filter(mission__club=club, mission__archived_at=None)
    for edition in TierVersion.objects.in_force().filter(tier__in=tiers):
        _try(club, edition)
    _try(club, None)
    club.save(update_fields=["readiness_policy"])
    _note(coach, None, before, club.readiness_policy, reason, now)
    for tier in tiers:
        refresh_tier(tier, now)
    club.touch()
    return club


def _checked(coach: Coach, reason: str) -> str:
    if not coach.may_change:
        raise NotAllowedError(
            MissionsCode.OBSERVER, _("An observer looks and changes nothing. Ask a coach to do this.")
        )
    reason = " ".join(reason.split())
    if not reason:
        raise InputError(
            MissionsCode.REASON_NEEDED, _("Say why the bar changes: teams and the other coaches will ask.")
        )
    return reason[:LONGEST_REASON]


def _try(club: Club, edition: TierVersion | None) -> None:
    try:
        rule_for(club, edition)
    except ReadinessError as error:
        words = (
            _("“%(tier)s”: %(wrong)s") % {"tier": edition.tier.name, "wrong": error.message}
            if edition
            else error.message
        )
        raise InputError(error.code, words) from error


def _note(
    coach: Coach,
    edition: TierVersion | None,
    before: dict[str, Any],
    after: dict[str, Any],
    reason: str,
    now: dt.datetime,
) -> None:
    BarChange.objects.create(
        club=coach.club, tier_version=edition, before=before, after=after, by=coach, at=now, reason=reason
    )
    subject = f"tier:{edition.tier_id}" if edition else f"club:{coach.club_id}"
    note_in_audit(coach.club, coach, "changed the bar", subject, now=now)
