"""A rehearsal of a team's draft, over the table as its tape or picture has it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.utils.translation import gettext as _

from classroom.access import TeamSeat
from classroom.errors import InputError
from classroom.models import Robot
from classroom.robots.numbers import numbers_for
from missions.models import TierVersion
from planning.courses.learned import known_robot
from planning.courses.pages.rehearsal import rehearsal_record
from planning.courses.rules.typing import card_rows, driving
from planning.courses.scene_for import scene_for
from planning.courses.services.check_draft import DRAFT_HYPOTHESES
from planning.errors import PlanningCode
from planning.team.draft import TeamDraft, draft_actions
from planning.team.measured import as_measured, survey_in_force


def draft_rehearsal(seat: TeamSeat, edition: TierVersion, robot: Robot, draft: TeamDraft) -> dict[str, Any]:
    """What the check of the draft was made of: the same scene, the same pretend runs.

    Raises
    ------
    InputError
        ``no_actions``.
    NotReadyError
        ``planner_not_ready``.
    """
    actions = draft_actions(draft, robot)
    if not actions:
        raise InputError(PlanningCode.NO_ACTIONS, _("There is nothing to rehearse yet. Add a drive or a turn first."))
    numbers = numbers_for(robot)
    known = known_robot(robot, numbers)
    known = replace(known, hypotheses=known.hypotheses.thinned(DRAFT_HYPOTHESES))
    measured = as_measured(edition, survey_in_force(seat.team, edition))
    scene = scene_for(measured, robot, numbers=numbers, known=known)
    drives = driving(actions, draft.start, robot, numbers)
    rows = card_rows(actions, robot, seat.club.unit)
    return rehearsal_record(scene, draft.start, drives.expected, drives.told, rows)
