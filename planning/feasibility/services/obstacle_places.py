"""The obstacle assistant as a job: places that block the plain way and leave another with room."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.errors import InputError
from classroom.models import Club, Coach, Robot
from missions.ladder.mission_file import Document
from motion.course.plain_words import plainly
from motion.errors import CancelledError, DeadlineError, MotionCode
from motion.scene.checks import scene_problems
from motion.scene.files import pose_to_dict, scene_from_dict, scene_to_dict
from planning.courses.rules.course_json import actions_to_json
from planning.errors import PlanningCode
from planning.feasibility.services.feasibility import scene_of
from planning.jobs.progress import JobControl
from planning.jobs.services.ask_for_job import ask_for_job
from planning.models import Job

OBSTACLE_PLACES = "obstacle_places"
PROPOSALS = 3
MOST_ROOM_MM = 500.0


def find_places(job_input: dict[str, Any], progress: JobControl) -> dict[str, Any]:
    """The planner's work: plain values in and out."""
    from motion.search.obstacle_places import propose_obstacles  # late: the kernels are for the worker

    try:
        proposals = propose_obstacles(
            scene_from_dict(job_input["scene"]),
            room_mm=job_input["room_mm"],
            count=PROPOSALS,
            deadline=lambda: -1.0 if progress.stopped() else progress.seconds_left(),
            progress=progress.tell,
        )
    except DeadlineError:
        if not progress.stopped():
            raise
        proposals = []
    if progress.stopped():
        raise CancelledError(MotionCode.CANCELLED, "Stopped.")
    return {
        "proposals": [
            {
                "outline": [[x, y] for x, y in proposal.obstacle.outline],
                "grade": proposal.grade,
                "plain_success": proposal.plain_success,
                "longer_s": proposal.longer_s,
                "success": asdict(proposal.course.check.success) if proposal.course.check.success else None,
                "duration_s": proposal.course.check.duration_s,
                "start": pose_to_dict(proposal.course.start),
                "actions": actions_to_json(proposal.course.actions),
            }
            for proposal in proposals
        ]
    }


@transaction.atomic
def ask_for_places(
    club: Club,
    coach: Coach,
    document: Document,
    index: int,
    robot: Robot | None,
    room_mm: float,
    *,
    now: dt.datetime,
) -> Job:
    """Ask for places in tier ``index`` where the robot can still keep ``room_mm`` from everything.

    Raises
    ------
    InputError
        ``bad_room``, or what is wrong with the drawing.
    """
    if not 0 <= room_mm <= MOST_ROOM_MM:
        raise InputError(PlanningCode.BAD_ROOM, _("The room to keep is 0 to 50 cm; choose another."))
    scene = scene_of(document, index, robot, club)
    if problems := scene_problems(scene):
        raise InputError(problems[0].code, plainly(problems[0].message, club.unit))
    job_input = {"scene": scene_to_dict(scene), "room_mm": room_mm}
    return ask_for_job(club, OBSTACLE_PLACES, job_input, asked_by=coach, now=now)
