"""Courses on the coach's screen: ask for one, look at it, show it to the team, print its card."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from classroom.access import as_key, get_team, require_coach
from classroom.errors import HelmroomError
from classroom.robots.numbers import numbers_for
from classroom.robots.robot_at import robot_at
from classroom.site.isolated import isolated
from missions.access import current_tier_version, get_tier
from planning.access import get_course, get_course_by_number
from planning.courses.forms import CourseAskForm
from planning.courses.pages.card import card_of
from planning.courses.pages.cards_of_tier import ask_links, cards_of_tier
from planning.courses.pages.drawings import card_drawing, leaves_of, scene_drawing
from planning.courses.pages.rehearsal import plan_rehearsal, rehearsal_answer
from planning.courses.plan_today import plan_today
from planning.courses.services.ask_for_course import ask_for_course
from planning.courses.services.show_course import show_course, take_back_course
from planning.models import Course


def course_ask(request: HttpRequest, team_id: int, tier_id: int) -> HttpResponse:
    coach = require_coach(request, to_change=request.method == "POST")
    team, tier = get_team(coach, team_id), get_tier(coach, tier_id)
    edition = current_tier_version(tier)
    if edition is None:
        raise Http404
    form = CourseAskForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            job = ask_for_course(coach, team, edition, now=timezone.now(), **form.cleaned_data)
            return redirect("job", job.pk)
        except HelmroomError as error:
            form.add_error(None, error.message)
    robot = robot_at(team, timezone.now())
    context = {
        "section": "teams",
        "team": team,
        "tier": tier,
        "edition": edition,
        "form": form,
        "robot": robot,
        "numbers": numbers_for(robot) if robot else None,
        "drawing": scene_drawing(edition, robot, coach.club.unit),
        "plans": Course.objects.of_team_in_tier(team, tier),
    }
    return render(request, "planning/courses/ask_page.html", context)


def course(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request)
    card = card_of(get_course(coach, pk))
    context = {"section": "teams", "card": card, "course": card.course, "drawing": card_drawing(card)}
    return render(request, "planning/courses/course_page.html", context)


@require_safe
def course_rehearsal(request: HttpRequest, pk: int) -> JsonResponse:
    """What the script that plays the plan on its map asks for."""
    coach = require_coach(request)
    found = get_course(coach, pk)
    return rehearsal_answer(lambda: plan_rehearsal(plan_today(found)))


@require_safe
def course_by_number(request: HttpRequest, team_id: int, tier_id: int, number: int) -> HttpResponse:
    """The plan that a run names: a run knows its plan by number alone."""
    coach = require_coach(request)
    found = get_course_by_number(get_team(coach, team_id), get_tier(coach, tier_id), number)
    return redirect("course", found.pk)


@require_POST
def course_show(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    found = get_course(coach, pk)
    told = {"team": isolated(found.team), "plan": found.number}
    try:
        if "take_back" in request.POST:
            take_back_course(found, coach, now=timezone.now())
            messages.success(request, _("%(team)s no longer sees plan %(plan)s.") % told)
        else:
            show_course(found, coach, now=timezone.now())
            messages.success(request, _("%(team)s sees plan %(plan)s on its tablet now.") % told)
    except HelmroomError as error:
        messages.error(request, error.message)
    back = as_key(request.POST.get("back"))
    return redirect("job", back) if back and back == found.job_id else redirect("course", pk)


def course_card(request: HttpRequest, pk: int) -> HttpResponse:
    """One card, to print."""
    coach = require_coach(request)
    card = card_of(get_course(coach, pk))
    context = {"section": "teams", "leaves": leaves_of([card]), "back": card.course}
    return render(request, "planning/courses/cards_page.html", context)


def tier_cards(request: HttpRequest, tier_id: int) -> HttpResponse:
    """The cards of all teams in a tier, one a page."""
    coach = require_coach(request)
    tier = get_tier(coach, tier_id)
    cards, without = cards_of_tier(coach.club, tier)
    context = {"section": "missions", "leaves": leaves_of(cards), "tier": tier, "without": ask_links(without, tier)}
    return render(request, "planning/courses/cards_page.html", context)
