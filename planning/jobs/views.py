"""A job while it runs, and what came of it, on one page that refreshes itself."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from classroom.access import get_session, require_coach
from classroom.site.htmx_request import HtmxHttpRequest
from classroom.site.live import answer_live, live_tag
from planning.access import get_course_job, get_job
from planning.courses.pages.card import CardsShare, card_of
from planning.courses.pages.drawings import leaves_of, tightest_drawing
from planning.jobs.kinds import ranks
from planning.jobs.services.best_rota import ask_for_best_rota
from planning.jobs.services.cancel_job import cancel_job
from planning.jobs.services.family_drafts import FAMILY_DRAFTS, ask_for_drafts
from planning.models import Course, Job, JobState
from planning.preparing.kernels import waits_for_planner


def job(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request)
    found = get_course_job(coach, pk)
    before = Job.objects.before(found, ranks()).count() if found.state == JobState.WAITING else 0
    shown = (found.state, found.progress, found.how_far, found.cancel_asked_at)
    tag = live_tag(coach.club, *shown, before, waits_for_planner())
    template = "planning/jobs/job_part.html" if request.htmx else "planning/jobs/job_page.html"
    context = {"section": "teams", "job": found, "before": before}
    return answer_live(request, template, tag, lambda: {**context, **_outcome(found)})


def _outcome(found: Job) -> dict[str, Any]:
    if found.state == JobState.FAILED:
        return {"drawing": tightest_drawing(found)}
    if found.state != JobState.DONE:
        return {}
    courses = list(Course.objects.for_cards().filter(job=found).order_by("number"))
    beside = CardsShare.of(courses)
    cards = [card_of(course, beside=beside) for course in courses]
    return {"options": leaves_of(cards)}


@require_POST
def job_cancel(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """Stop a job of any kind. Its page looks by itself; without a script ``back`` leads there."""
    coach = require_coach(request, to_change=True)
    found = get_job(coach, pk)
    cancel_job(found, now=timezone.now())
    if request.htmx:
        return HttpResponse(status=204)
    back = request.POST.get("back", "")
    if found.team_id:
        return redirect("job", pk)
    return redirect(back if url_has_allowed_host_and_scheme(back, allowed_hosts=None) else "board")


@require_http_methods(["GET", "POST"])
def family_drafts(request: HttpRequest) -> HttpResponse:
    """POST: new drafts for all families that are due; they lie in the queue when they are made. GET: how far that is."""
    coach = require_coach(request, to_change=True)
    if request.method == "GET":
        newest = Job.objects.filter(club=coach.club, kind=FAMILY_DRAFTS).order_by("pk").last()
        return render(request, "planning/jobs/drafts_part.html", {"job": newest})
    ask_for_drafts(coach, now=timezone.now())
    messages.success(
        request,
        _("Drafts are being made from the records. They lie in the queue in a minute, approved by nobody."),
    )
    return redirect("families")


@require_POST
def rota_better(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """Look for a better rota than the one that stands; asked again, it says how far that is."""
    coach = require_coach(request, to_change=True)
    session = get_session(coach, pk)
    found = ask_for_best_rota(session, coach, again="again" in request.POST, now=timezone.now())
    if not request.htmx:
        return redirect("rota", session.pk)
    return render(request, "planning/jobs/rota_better_part.html", {"session": session, "job": found})
