"""The work behind "find a course": from a job's input to courses, and from courses to a team's numbered plans."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.translation import gettext_noop

from classroom.models import Robot
from motion.course.actions import PlannedCourse as Planned
from motion.course.sentences import Sentence, _, in_line, keep, kept
from motion.errors import NoCourseError
from motion.scene.files import pose_to_dict, scene_from_dict
from planning.courses.rules.course_json import actions_from_json, actions_to_json, check_from_json, check_to_json
from planning.courses.rules.known_robot import scene_with_known
from planning.courses.scene_for import pose_of
from planning.courses.services.save_revision import keep_course
from planning.jobs.progress import JobControl
from planning.models import Job, Origin

PLAN_COURSE = "plan_course"


def find_courses(job_input: dict[str, Any], progress: JobControl) -> dict[str, Any]:
    """Plan as asked; plain values in and out."""
    from motion.search.mending import with_mend  # late: the kernels are for the worker
    from motion.search.plan import plan_courses

    scene = scene_with_known(scene_from_dict(job_input["scene"]), job_input.get("known"))
    try:
        courses = plan_courses(
            scene,
            aim=job_input["aim"],
            alternatives=job_input["alternatives"],
            most_actions=job_input.get("most_steps"),
            progress=progress.tell,
            deadline=progress.seconds_left,
            cancelled=progress.stopped,
        )
    except NoCourseError as error:
        progress.tell(0.9, gettext_noop("There is no way; looking for what to move"))
        raise with_mend(scene, error, cancelled=progress.out_of_time) from error
    return {"courses": _without_doubles([_to_json(course) for course in courses])}


def keep_plans(job: Job, result: dict[str, Any], now: dt.datetime) -> None:
    """Each course found becomes the team's next plan, not yet shown to it."""
    assert job.team is not None and job.tier_version is not None
    robot = Robot.objects.get(pk=job.input["robot"])
    for found in result["courses"]:
        start = pose_of(found["start"])
        keep_course(
            job.team,
            job.tier_version,
            robot,
            job.input["numbers"],
            start,
            actions_from_json(found["actions"], start),
            check_from_json(found["check"]),
            calibration_id=job.input["calibration"],
            origin=Origin.PLANNER,
            aim=found["aim"],
            note=found["note"],
            note_said=found.get("said"),
            job=job,
            now=now,
        )


#: By the second aim that a course serves.
_TOO = {
    "steadiest": _("It is the steadiest too."),
    "fastest": _("It is the fastest too."),
    "simplest": _("It is the simplest too."),
}


def _without_doubles(courses: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """One course that serves two aims is kept once, and says so."""
    once: list[dict[str, Any]] = []
    for course in courses:
        same = next(
            (one for one in once if (one["start"], one["actions"]) == (course["start"], course["actions"])), None
        )
        if same is None:
            once.append(course)
        elif same["aim"] != course["aim"]:
            said = [kept(same["said"]) if same.get("said") else same["note"], _TOO[course["aim"]]]
            same |= _noted(in_line(" ", [words for words in said if words]))
    return once


def _to_json(course: Planned) -> dict[str, Any]:
    return {
        "aim": course.aim,
        "rounded": course.rounded,
        "margin_mm": course.margin_mm,
        "start": pose_to_dict(course.start),
        "actions": actions_to_json(course.actions),
        "check": check_to_json(course.check),
        **_noted(course.note),
    }


def _noted(words: str) -> dict[str, Any]:
    """A note in English, and as a sentence for whoever reads it."""
    return {"note": words, "said": keep(words)} if isinstance(words, Sentence) else {"note": words}
