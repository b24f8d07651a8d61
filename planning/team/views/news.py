"""What a tablet is told by itself, and what its team taps then."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from classroom import access
from classroom.errors import HelmroomError
from classroom.site.live import answer_live
from missions.access import get_open_tier
from missions.day.pages.team_turn import team_turn
from missions.ladder.services.take_up_tier import take_up_tier
from planning.access import get_own_course
from planning.models import TeamAnswer
from planning.team.pages.news import news_asked_for, news_tag_of
from planning.team.services.answer_course import answer_course


@require_safe
def team_news(request: HttpRequest) -> HttpResponse:
    """A fragment that the tablet asks for again and again; 304 while nothing is new."""
    seat, now = access.require_team(request), timezone.now()
    asked = request.GET.get("tier")
    return answer_live(
        request,
        "planning/team/news_part.html",
        news_tag_of(seat, asked, now),
        lambda: {"news": news_asked_for(seat, asked, team_turn(seat.team, now))},
    )


@require_POST
def team_go(request: HttpRequest) -> HttpResponse:
    """The team goes to another of its tiers; the tablet stays there."""
    seat = access.require_team(request)
    tier = get_open_tier(seat, access.as_key(request.POST.get("tier")))
    take_up_tier(seat, tier, now=timezone.now())
    return redirect(f"{reverse('team_mission')}?tier={tier.pk}")


@require_POST
def team_answer(request: HttpRequest, pk: int) -> HttpResponse:
    """To try a course that the coach shows leads to it; to keep one's own leads back to the mission."""
    seat = access.require_team(request)
    course = get_own_course(seat, pk)
    try:
        answer_course(course, request.POST.get("answer", ""), now=timezone.now())
    except HelmroomError as error:
        messages.error(request, error.message)
        return redirect("team_plan", pk)
    messages.success(request, _("Your coach reads: “%(answer)s”.") % {"answer": course.get_answer_display()})
    if course.answer == TeamAnswer.TRY:
        return redirect("team_plan", pk)
    return redirect(f"{reverse('team_course')}?tier={course.tier_version.tier_id}")
