"""Keeping a course as the next numbered plan of its team and tier."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from contextlib import suppress
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from classroom.errors import InputError
from classroom.models import Robot, Team
from classroom.robots.numbers import RobotNumbers, numbers_for
from missions.models import TierVersion
from motion.course.actions import Action, Check
from motion.scene.files import pose_to_dict
from motion.scene.records import Pose
from planning.courses.rules.course_json import actions_to_json, check_to_json
from planning.courses.rules.typing import scaled_actions
from planning.courses.services.check_draft import check_draft
from planning.errors import PlanningCode
from planning.models import Course, Job, Origin
from planning.preparing.checks import NotReadyError

MOST_ACTIONS = 40


def save_revision(
    team: Team,
    tier_version: TierVersion,
    robot: Robot,
    start: Pose,
    actions: Sequence[Action],
    *,
    now: dt.datetime,
) -> Course:
    """The team's draft as its next plan, with the check of what it really does.

    Parameters
    ----------
    actions
        As typed, like :func:`planning.courses.services.check_draft.check_draft`. A course that touches something is kept too:
        it is the team's thinking, and its check says so. While nothing can be checked yet it is kept unchecked.

    Raises
    ------
    InputError
        ``no_actions`` or ``too_many_actions``.
    """
    if not actions:
        raise InputError(PlanningCode.NO_ACTIONS, _("There is nothing to save yet. Add a drive or a turn first."))
    if len(actions) > MOST_ACTIONS:
        words = _("A plan has at most %(most)s steps. Take some out.") % {"most": MOST_ACTIONS}
        raise InputError(PlanningCode.TOO_MANY_ACTIONS, words)
    numbers = numbers_for(robot)
    check: Check | None = None
    with suppress(NotReadyError):
        check = check_draft(team, tier_version, robot, start, actions, numbers=numbers)
    true = scaled_actions(actions, start, numbers.distance_scale, numbers.turn_scale)
    course = keep_course(
        team,
        tier_version,
        robot,
        typed_scales(numbers),
        start,
        true,
        check,
        calibration_id=numbers.calibration.pk if numbers.calibration else None,
        origin=Origin.TEAM,
        now=now,
    )
    team.club.touch(is_news=False)
    return course


def scales(numbers: RobotNumbers) -> dict[str, float]:
    """What a planner's course keeps of the robot's numbers: enough to tell what was typed, all of it allowed for."""
    known = {"turn_bias_deg": numbers.turn_bias_deg, "drift_deg_per_m": numbers.drift_deg_per_m}
    return typed_scales(numbers) | known


def typed_scales(numbers: RobotNumbers) -> dict[str, float]:
    """What a team's course keeps: its numbers were typed as they are, and allow for nothing by themselves."""
    return {"distance_scale": numbers.distance_scale, "turn_scale": numbers.turn_scale}


@transaction.atomic
def keep_course(
    team: Team,
    tier_version: TierVersion,
    robot: Robot,
    scales: dict[str, float],
    start: Pose,
    actions: Sequence[Action],
    check: Check | None,
    *,
    calibration_id: int | None,
    origin: Origin,
    now: dt.datetime,
    aim: str = "own",
    note: str = "",
    note_said: list[Any] | None = None,
    job: Job | None = None,
) -> Course:
    """Write true actions and their check, if there is one yet, as plan number n + 1 of this team and tier."""
    Team.objects.select_for_update().get(pk=team.pk)  # one number at a time
    last = Course.objects.filter(team=team, tier_version__tier=tier_version.tier_id).aggregate(last=Max("number"))
    return Course.objects.create(
        team=team,
        tier_version=tier_version,
        robot=robot,
        calibration_id=calibration_id,
        number=(last["last"] or 0) + 1,
        origin=origin,
        aim=aim,
        start=pose_to_dict(start),
        actions=actions_to_json(actions),
        numbers=scales,
        check_result=check_to_json(check) if check else {},
        note=note[:300],
        note_said=note_said,
        job=job,
        created_at=now,
    )
