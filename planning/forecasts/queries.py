"""Which runs were made of a plan with the robot as it was known when the plan was kept."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Count, Q

from classroom.models import Club
from missions.models import Attempt
from planning.forecasts.rules import Forecast
from planning.models import Course


def forecast_of(course: Course) -> Forecast | None:
    """None when no chance was said of it. One query."""
    return forecasts_of([course]).get(course.pk)


def forecasts_of_club(club: Club, **period: object) -> list[Forecast]:
    """Of every plan of the club that was run in a period (filters of ``Attempt``). Two queries."""
    runs = Attempt.objects.standing().filter(team__club=club, plan_number__isnull=False, **period)
    courses = Course.objects.run_in(runs)
    return list(forecasts_of(courses, **period).values())


def forecasts_of(courses: Iterable[Course], **period: object) -> dict[int, Forecast]:
    """By course. A run counts whose robot and calibration are those that the plan was kept with."""
    found = {course.pk: course for course in courses if (course.check_result or {}).get("success")}
    if not found:
        return {}
    which = ("team", "tier", "plan_number", "robot", "calibration")
    rows = Attempt.objects.standing().filter(
        team__in={course.team_id for course in found.values()},
        plan_number__in={course.number for course in found.values()},
        **period,
    )
    counts = rows.order_by().values_list(*which).annotate(came=Count("pk", filter=Q(success=True)), runs=Count("pk"))
    seen = {tuple(made_of): (came, runs) for *made_of, came, runs in counts}
    made = {}
    for pk, course in found.items():
        said = course.check_result["success"]
        key = (
            course.team_id,
            course.tier_version.tier_id,
            course.number,
            course.robot_id,
            course.calibration_id,
        )
        made[pk] = Forecast(said["probability"], said["low"], said["high"], *seen.get(key, (0, 0)))
    return made
