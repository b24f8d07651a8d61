"""Can it be done? Asked from the editor, answered as it comes."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from classroom.access import require_coach
from classroom.site.htmx_request import HtmxHttpRequest
from missions.access import get_mission
from planning.feasibility.asked_mission import asked_about
from planning.feasibility.pages import answers_page, drawing_stops, panel_page, read_questions, signed_questions
from planning.feasibility.services.feasibility import ask_feasibility, robots_for


@require_http_methods(["GET", "POST"])
def feasibility_panel(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """GET shows whom one may ask about; POST asks about the form as it stands, or the saved draft without one."""
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    if request.method == "GET":
        panel = "planning/feasibility/panel_part.html" if request.htmx else "planning/feasibility/panel_page.html"
        return render(request, panel, panel_page(mission))
    sheet, reading = asked_about(mission, request.POST)
    if reading.document is None:
        return _answers(request, answers_page(mission, [], unread=len(reading.errors)))
    if drawing_stops(mission, sheet, reading):
        return _answers(request, answers_page(mission, [], stops=True))
    robots = robots_for(coach.club, request.POST.get("robot", ""))
    before = read_questions(request.POST.get("ask", ""))
    keys = [tier.key for tier in sheet.tiers]
    asked = ask_feasibility(coach.club, coach, reading.document, keys, robots, now=timezone.now(), before=before)
    if not request.htmx:
        return redirect(f"{reverse('feasibility_look', args=[pk])}?ask={signed_questions(asked)}")
    return _answers(request, answers_page(mission, asked))


@require_GET
def feasibility_look(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """How far the answers are."""
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    asked = read_questions(request.GET.get("ask", ""))
    if not asked:
        raise Http404
    return _answers(request, answers_page(mission, asked))


def _answers(request: HtmxHttpRequest, page: dict[str, object]) -> HttpResponse:
    answers = "planning/feasibility/answers_part.html" if request.htmx else "planning/feasibility/answers_page.html"
    return render(request, answers, page)
