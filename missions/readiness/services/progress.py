"""A coach moves a team up and down the ladder. Evidence never does it by itself."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ConflictError, InputError, NotAllowedError
from classroom.models import Coach, Team
from classroom.site.isolated import isolated
from missions.errors import MissionsCode
from missions.models import Progress, ProgressChange, ProgressState, Tier
from missions.readiness.rules.answer import ReadinessAnswer
from missions.readiness.services.evidence import READY, answer_now, snapshot

LONGEST_REASON = 300


@transaction.atomic
def open_tier(
    coach: Coach, team: Team, tier: Tier, reason: str, now: dt.datetime, *, pass_below: bool = False
) -> Progress:
    """Open a tier for a team; ``pass_below`` marks the tier under it as passed with the same reason.

    Opening while the tier below is neither passed nor ready goes against the rule and needs a reason.

    Raises
    ------
    NotAllowedError
        ``observer``, ``other_club``.
    InputError
        ``reason_needed``, ``reason_too_long``, ``not_published``, ``left_out``.
    ConflictError
        ``already_open``: somebody was quicker.
    """
    reason = _checked(coach, team, tier, reason)
    if not tier.versions.exclude(version__published_at=None).exists():
        raise InputError(
            MissionsCode.NOT_PUBLISHED,
            _("“%(tier)s” is not published yet. Publish the mission first.") % {"tier": tier.name},
        )
    _still_offered(tier)
    progress, _made = Progress.objects.select_for_update().get_or_create(
        team=team, tier=tier, defaults={"state": ProgressState.NOT_OPEN, "updated_at": now}
    )
    if progress.state != ProgressState.NOT_OPEN:
        raise ConflictError(
            MissionsCode.ALREADY_OPEN,
            _("“%(tier)s” is open for %(team)s already. Load the page again.")
            % {"tier": tier.name, "team": isolated(team)},
        )
    below = look_below(team, tier, now)
    if below.against and not reason:
        raise InputError(
            MissionsCode.REASON_NEEDED,
            _("%(team)s are not ready for it by the rule. Say why you open it all the same.")
            % {"team": isolated(team)},
        )
    evidence = snapshot(below.progress, below.found) if below.progress and below.found else {}
    if pass_below and below.progress is not None and below.progress.state == ProgressState.WORKING:
        _move(below.progress, ProgressState.PASSED, coach, reason, now, evidence, overruled=not below.ready)
    progress.opened_at = now
    _move(progress, ProgressState.WORKING, coach, reason, now, evidence, overruled=below.against)
    return progress


@transaction.atomic
def pass_tier(coach: Coach, team: Team, tier: Tier, reason: str, now: dt.datetime) -> Progress:
    """Sign a tier off. Against what the rule says it needs a reason."""
    reason = _checked(coach, team, tier, reason)
    progress = _of(team, tier)
    if progress.state == ProgressState.PASSED:
        raise ConflictError(
            MissionsCode.ALREADY_PASSED,
            _("%(team)s have passed “%(tier)s” already. Load the page again.")
            % {"team": isolated(team), "tier": tier.name},
        )
    if progress.state == ProgressState.NOT_OPEN:
        raise ConflictError(
            MissionsCode.NOT_OPEN,
            _("“%(tier)s” is not open for %(team)s. Open it first.") % {"tier": tier.name, "team": isolated(team)},
        )
    found = answer_now(progress, now)
    against = found.code != READY
    if against and not reason:
        raise InputError(
            MissionsCode.REASON_NEEDED,
            _("The rule does not call %(team)s ready. Say why you pass them all the same.") % {"team": isolated(team)},
        )
    _move(progress, ProgressState.PASSED, coach, reason, now, snapshot(progress, found), overruled=against)
    return progress


@transaction.atomic
def hold_back(coach: Coach, team: Team, tier: Tier, reason: str, now: dt.datetime) -> Progress:
    """Keep a team on a tier whatever the rule says, until a coach lets go. Always with a reason."""
    reason = _reasoned(
        _checked(coach, team, tier, reason),
        _("Say why you hold them back: the team and the other coaches will ask."),
    )
    progress = _of(team, tier)
    if progress.state != ProgressState.WORKING or progress.held_at is not None:
        raise ConflictError(
            MissionsCode.NOT_WORKING,
            _("%(team)s are not working on “%(tier)s” now. Load the page again.")
            % {"team": isolated(team), "tier": tier.name},
        )
    found = answer_now(progress, now)
    progress.held_at = now
    evidence = snapshot(progress, found)
    _move(progress, ProgressState.WORKING, coach, reason, now, evidence, overruled=found.code == READY, holds=True)
    return progress


@transaction.atomic
def reopen(coach: Coach, team: Team, tier: Tier, reason: str, now: dt.datetime) -> Progress:
    """Back to work: a tier passed too soon, or one that was held back. Always with a reason."""
    reason = _reasoned(
        _checked(coach, team, tier, reason),
        _("Say why you put them back to work on it: the team and the other coaches will ask."),
    )
    _still_offered(tier)
    progress = _of(team, tier)
    if progress.state != ProgressState.PASSED and progress.held_at is None:
        raise ConflictError(
            MissionsCode.NOTHING_TO_REOPEN,
            _("%(team)s have “%(tier)s” open as it is. Load the page again.")
            % {"team": isolated(team), "tier": tier.name},
        )
    progress.held_at = None
    evidence = snapshot(progress, answer_now(progress, now))
    _move(progress, ProgressState.WORKING, coach, reason, now, evidence, overruled=False)
    return progress


@transaction.atomic
def close_tier(coach: Coach, team: Team, tier: Tier, reason: str, now: dt.datetime) -> Progress:
    """Take a tier away again, as when it was opened by mistake. Its runs stay. Always with a reason."""
    reason = _reasoned(
        _checked(coach, team, tier, reason), _("Say why you close it: the team and the other coaches will ask.")
    )
    progress = _of(team, tier)
    if progress.state == ProgressState.NOT_OPEN:
        raise ConflictError(
            MissionsCode.NOT_OPEN,
            _("“%(tier)s” is not open for %(team)s. Load the page again.")
            % {"tier": tier.name, "team": isolated(team)},
        )
    progress.held_at = None
    evidence = snapshot(progress, answer_now(progress, now))
    _move(progress, ProgressState.NOT_OPEN, coach, reason, now, evidence, overruled=False)
    return progress


def _checked(coach: Coach, team: Team, tier: Tier, reason: str) -> str:
    if not coach.may_change:
        raise NotAllowedError(
            MissionsCode.OBSERVER, _("An observer looks and changes nothing. Ask a coach to do this.")
        )
    if team.club_id != coach.club_id or tier.mission.club_id != coach.club_id:
        raise NotAllowedError(MissionsCode.OTHER_CLUB, _("This team and tier are not of your club."))
    reason = " ".join(reason.split())
    if len(reason) > LONGEST_REASON:
        raise InputError(
            MissionsCode.REASON_TOO_LONG,
            _("Shorten the reason to %(most)s letters.") % {"most": LONGEST_REASON},
        )
    return reason


def _reasoned(reason: str, asked: str) -> str:
    if not reason:
        raise InputError(MissionsCode.REASON_NEEDED, asked)
    return reason


def _still_offered(tier: Tier) -> None:
    if tier.left_out_at is not None:
        words = _(
            "“%(tier)s” is no longer offered: the newest version of its mission leaves it out. Open another tier."
        )
        raise InputError(MissionsCode.LEFT_OUT, words % {"tier": tier.name})


@dataclass(frozen=True)
class Below:
    """The rung under a tier, and how the team stands on it."""

    tier: Tier | None
    progress: Progress | None = None
    found: ReadinessAnswer | None = None

    @property
    def ready(self) -> bool:
        return self.found is not None and self.found.code == READY

    @property
    def against(self) -> bool:
        """Whether opening the tier above goes against the rule."""
        passed = self.progress is not None and self.progress.state == ProgressState.PASSED
        return self.tier is not None and not passed and not self.ready


def look_below(team: Team, tier: Tier, now: dt.datetime) -> Below:
    """What opening ``tier`` would rest on."""
    lower = Tier.objects.offered().filter(mission=tier.mission_id, order__lt=tier.order).order_by("-order").first()
    if lower is None:
        return Below(None)
    progress = Progress.objects.select_related("team__club", "tier").filter(team=team, tier=lower).first()
    return Below(lower, progress, answer_now(progress, now) if progress else None)


def _of(team: Team, tier: Tier) -> Progress:
    progress = Progress.objects.select_for_update().filter(team=team, tier=tier).first()
    if progress is None:
        raise ConflictError(
            MissionsCode.NOT_OPEN,
            _("“%(tier)s” is not open for %(team)s. Open it first.") % {"tier": tier.name, "team": isolated(team)},
        )
    return progress


def _move(
    progress: Progress,
    to_state: str,
    coach: Coach,
    reason: str,
    now: dt.datetime,
    evidence: dict[str, Any],
    *,
    overruled: bool,
    holds: bool = False,
) -> None:
    ProgressChange.objects.create(
        progress=progress,
        from_state=progress.state,
        to_state=to_state,
        by=coach,
        at=now,
        reason=reason,
        overruled=overruled,
        holds=holds,
        evidence=evidence,
    )
    progress.state = to_state
    progress.passed_at = now if to_state == ProgressState.PASSED else None
    if to_state != ProgressState.WORKING:
        progress.held_at = None
    progress.updated_at = now
    progress.save(update_fields=["state", "opened_at", "passed_at", "held_at", "updated_at"])
    verb = "overruled the rule" if overruled else "moved a team"
    note_in_audit(coach.club, coach, verb, f"team:{progress.team_id} tier:{progress.tier_id}", now=now)
    coach.club.touch()
