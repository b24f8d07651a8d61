"""The cards that a coach prints before a session: one for each team that has a course."""

from __future__ import annotations

from django.urls import reverse
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from classroom.models import Club, Team
from missions.models import Tier
from planning.courses.pages.card import CardsShare, CourseCard, card_of
from planning.models import Course, Origin


def cards_of_tier(club: Club, tier: Tier) -> tuple[list[CourseCard], list[Team]]:
    """Each active team's card for a tier, in the order of the tables, and the teams that have none.

    A team's card is the newest of the planner's courses that it was shown, else its own newest plan.
    """
    teams = list(Team.objects.active().filter(club=club))
    for team in teams:
        team.club = club
    best: dict[int, Course] = {}
    for course in Course.objects.for_cards_of(teams, tier):
        held = best.get(course.team_id)
        if held is None or course.origin == Origin.PLANNER or held.origin == Origin.TEAM:
            best[course.team_id] = course
    beside = CardsShare.of(list(best.values()))
    cards = [card_of(best[team.pk], beside=beside) for team in teams if team.pk in best]
    return cards, [team for team in teams if team.pk not in best]


def ask_links(teams: list[Team], tier: Tier) -> SafeString:
    """Each team's name, leading to where a course is asked for."""
    rows = ((reverse("course_ask", args=[team.pk, tier.pk]), team.name) for team in teams)
    return format_html_join(", ", '<a href="{}">{}</a>', rows)
