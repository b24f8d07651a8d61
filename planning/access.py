"""The only way to a course or a job."""

from __future__ import annotations

from django.http import Http404

from classroom.access import TeamSeat, get_or_404
from classroom.models import Coach, Team
from missions.models import Tier
from planning.models import Course, Job


def get_course(coach: Coach, pk: int) -> Course:
    return get_or_404(Course.objects.for_cards().filter(team__club=coach.club), pk)


def get_course_by_number(team: Team, tier: Tier, number: int) -> Course:
    """By the number that people say ("plan 7"), of a team and a tier that were got for the asker."""
    found = Course.objects.of_team_in_tier(team, tier).filter(number=number).first()
    if found is None:
        raise Http404
    return found


def get_job(coach: Coach, pk: int) -> Job:
    return get_or_404(Job.objects.select_related("club").filter(club=coach.club), pk)


def get_course_job(coach: Coach, pk: int) -> Job:
    """One that looks for a team's course: other kinds have no page of their own."""
    return get_or_404(
        Job.objects.select_related("club", "team", "tier_version__tier__mission").filter(
            club=coach.club, team__isnull=False
        ),
        pk,
    )


def get_own_course(seat: TeamSeat, pk: int) -> Course:
    """The team's own course, or one of the planner's that a coach has shown it."""
    return get_or_404(Course.objects.filter(team=seat.team).visible_to_team().select_related("robot"), pk)
