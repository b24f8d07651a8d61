"""A coach asks the planner for a team's course."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.errors import InputError
from classroom.models import Coach, Team
from classroom.robots.numbers import numbers_for
from classroom.robots.robot_at import robot_at
from classroom.site.isolated import isolated
from missions.models import TierVersion
from motion.scene.checks import scene_problems
from motion.scene.files import scene_to_dict
from planning.courses.learned import known_robot
from planning.courses.rules.known_robot import known_to_json
from planning.courses.scene_for import scene_for
from planning.courses.services.plan_team_course import PLAN_COURSE
from planning.courses.services.save_revision import scales
from planning.errors import PlanningCode
from planning.jobs.services.ask_for_job import ask_for_job
from planning.models import Job

AIMS = ("steadiest", "fastest", "simplest", "all")
MOST_ALTERNATIVES = 3
#: A course has at least its way out, its push and its way home; longer ones than the most are not looked for.
FEWEST_STEPS, MOST_STEPS = 3, 32


@transaction.atomic
def ask_for_course(
    coach: Coach,
    team: Team,
    tier_version: TierVersion,
    aim: str,
    now: dt.datetime,
    *,
    alternatives: int = 1,
    most_steps: int | None = None,
) -> Job:
    """The job that finds it; the one that has found it, when the very same was asked before.

    ``most_steps``: no course of more steps; None for any number.

    Raises
    ------
    InputError
        ``no_robot``, ``unknown_aim``, ``too_many_alternatives``, ``step_limit``, or what is wrong with the mission's map.
    """
    if aim not in AIMS:
        raise InputError(PlanningCode.UNKNOWN_AIM, _("Choose steadiest, fastest, simplest or all three."))
    if not 1 <= alternatives <= MOST_ALTERNATIVES:
        words = _("Ask for one to %(most)s courses.") % {"most": MOST_ALTERNATIVES}
        raise InputError(PlanningCode.TOO_MANY_ALTERNATIVES, words)
    if most_steps is not None and not FEWEST_STEPS <= most_steps <= MOST_STEPS:
        words = _("Allow %(fewest)s to %(most)s steps, or leave it empty.")
        raise InputError(PlanningCode.STEP_LIMIT, words % {"fewest": FEWEST_STEPS, "most": MOST_STEPS})
    robot = robot_at(team, now)
    if robot is None:
        words = _("%(team)s has no robot. Give it one on the Robots page, then ask again.") % {"team": isolated(team)}
        raise InputError(PlanningCode.NO_ROBOT, words)
    numbers = numbers_for(robot)
    known = known_robot(robot, numbers)
    scene = scene_for(tier_version, robot, numbers=numbers)
    if problems := scene_problems(scene):
        words = _("The map cannot be used yet. %(why)s") % {"why": problems[0].message}
        raise InputError(problems[0].code, words)
    job_input = {
        "team": team.pk,
        "robot": robot.pk,
        "tier_version": tier_version.pk,
        "calibration": numbers.calibration.pk if numbers.calibration else None,
        "numbers": scales(numbers),
        "aim": aim,
        "alternatives": alternatives,
        "scene": scene_to_dict(scene),
        "known": known_to_json(known, scene.time_limit_s),
    }
    if most_steps is not None:
        job_input["most_steps"] = most_steps
    return ask_for_job(team.club, PLAN_COURSE, job_input, team=team, tier_version=tier_version, asked_by=coach, now=now)
