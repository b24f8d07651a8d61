"""Keeping a team's draft, with more than one tablet drawing at the same time."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.access import TeamSeat
from classroom.errors import ConflictError
from classroom.models import Robot, Team
from classroom.robots.numbers import numbers_for
from missions.models import Tier, TierVersion
from planning.courses.services.save_revision import save_revision
from planning.errors import PlanningCode
from planning.models import Course, Origin
from planning.team.draft import TeamDraft, draft_actions, draft_of
from planning.team.measured import as_measured, survey_in_force


def newest_plan(seat: TeamSeat, tier: Tier) -> Course | None:
    """The team's own latest plan on this tier."""
    return (
        Course.objects.filter(team=seat.team, tier_version__tier=tier, origin=Origin.TEAM).order_by("-number").first()
    )


@transaction.atomic
def keep_draft(
    seat: TeamSeat, edition: TierVersion, robot: Robot, draft: TeamDraft, *, base: int, now: dt.datetime
) -> Course:
    """The draft as the team's next plan. ``base`` is the newest plan that this tablet knew of (0 for none).

    Raises
    ------
    ConflictError
        ``newer_plan`` when another tablet of the team has kept a plan since. Both stay: this one can be kept on top.
    InputError
        As ``save_revision``.
    """
    Team.objects.select_for_update().get(pk=seat.team.pk)
    newest = newest_plan(seat, edition.tier)
    if newest is not None and newest.number > base:
        if draft_of(newest, robot, numbers_for(robot)) == draft:
            return newest  # sent twice, or drawn alike on two tablets
        raise ConflictError(
            PlanningCode.NEWER_PLAN,
            _(
                "Your team kept plan %(number)s on another tablet while you drew this one. "
                "Nothing is lost: look at plan %(number)s, then keep yours too."
            )
            % {"number": newest.number},
        )
    measured = as_measured(edition, survey_in_force(seat.team, edition))
    return save_revision(seat.team, measured, robot, draft.start, draft_actions(draft, robot), now=now)
