"""Checking what was kept unchecked, as soon as the kernels are ready."""

from __future__ import annotations

from classroom.robots.numbers import numbers_for
from planning.courses.rules.course_json import check_to_json
from planning.courses.scene_for import pose_of
from planning.courses.services.check_draft import check_draft
from planning.courses.told_today import told_today
from planning.models import Course
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
        told = told_today(course, course.robot, numbers)
        check = check_draft(course.team, edition_of(course), course.robot, pose_of(course.start), told, numbers=numbers)
        Course.objects.unchecked().filter(pk=course.pk).update(check_result=check_to_json(check))
    for club in {course.team.club for course in courses}:
        club.touch(is_news=False)
    return len(courses)
