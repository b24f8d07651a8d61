"""What was said and what came, over a term."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from classroom.access import get_term, require_coach
from planning.forecasts.pages import forecasts_page


@require_safe
def forecasts(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request)
    term = get_term(coach, pk)
    return render(
        request,
        "planning/forecasts/forecasts_page.html",
        {"section": "today", **forecasts_page(coach.club, term)},
    )
