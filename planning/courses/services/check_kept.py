"""Checking what was kept unchecked, as soon as the kernels are ready."""

from __future__ import annotations

from classroom.robots.numbers import numbers_for
from planning.courses.rules.course_json import actions_from_json, check_to_json
from planning.courses.scene_for import pose_of, scene_for
from planning.courses.services.check_draft import DRAFT_RUNS
from planning.models import Course
from planning.preparing.checks import check_now
from planning.team.measured import edition_of


def check_kept_courses() -> int:
    """Give each course that was kept without a check the one that it would have been kept with; how many those were.

    Each is written by itself and only while it has none, so that two processes may do this at once and nobody waits.

    Raises
    ------
    NotReadyError
        ``planner_not_ready``.
    """
    courses = list(Course.objects.unchecked())
    for course in courses:
        numbers = numbers_for(course.robot, at=course.created_at)
        scene = scene_for(edition_of(course), course.robot, numbers=numbers)
        start = pose_of(course.start)
        check = check_now(scene, start, actions_from_json(course.actions, start), runs=DRAFT_RUNS, seed=course.team_id)
        Course.objects.unchecked().filter(pk=course.pk).update(check_result=check_to_json(check))
    for club in {course.team.club for course in courses}:
        club.touch()
    return len(courses)
