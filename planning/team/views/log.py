"""Log a run, see what it says, put it right or take it back. All of it works as plain forms too."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from classroom import access
from classroom.errors import HelmroomError
from missions.access import get_own_attempt
from missions.ladder.pages.tablet_tiers import chosen_tier, left_out
from missions.runs.forms import RunForm
from missions.runs.services.record_attempt import record_attempt
from missions.runs.services.tablet_sync import change_own, count_again, withdraw_own
from planning.team.pages.log import as_typed, log_page
from planning.team.pages.run import run_page


@require_http_methods(["GET", "POST"])
def team_log(request: HttpRequest) -> HttpResponse:
    seat = access.require_team(request)
    tier = chosen_tier(seat, request.POST.get("tier") or request.GET.get("tier"))
    if tier is None:
        return render(request, "planning/team/nothing_open_page.html", {"tab": "team_log", "left_out": left_out(seat)})
    if request.method == "GET":
        return render(request, "planning/team/log_page.html", log_page(seat, tier, plan=request.GET.get("plan")))
    try:
        run = RunForm(request.POST, unit=seat.club.unit, now=timezone.now()).run()
        attempt, _ = record_attempt(seat.team, run, now=timezone.now(), tablet=seat.tablet)
    except HelmroomError as error:
        page = log_page(seat, tier, filled=request.POST.dict()) | {"wrong": error.message}
        return render(request, "planning/team/log_page.html", page, status=422)
    return redirect("team_run", attempt.uuid)


@require_safe
def team_run(request: HttpRequest, uuid: UUID) -> HttpResponse:
    """What happened, and what it says together with the last runs. As a fragment for the page that has just saved it."""
    seat = access.require_team(request)
    attempt = get_own_attempt(seat, uuid)
    page = run_page(seat, attempt, timezone.now())
    part = request.headers.get("X-Part") == "yes"
    return render(request, "planning/team/run_part.html" if part else "planning/team/run_page.html", page)


@require_http_methods(["GET", "POST"])
def team_run_change(request: HttpRequest, uuid: UUID) -> HttpResponse:
    seat = access.require_team(request)
    attempt = get_own_attempt(seat, uuid)
    filled, wrong, status = as_typed(attempt, seat.club.unit), "", 200
    if request.method == "POST":
        try:
            run = RunForm(request.POST, unit=seat.club.unit, now=timezone.now()).run()
            return redirect("team_run", change_own(seat, uuid, run, now=timezone.now()).uuid)
        except HelmroomError as error:
            filled, wrong, status = request.POST.dict(), error.message, 422
    page = log_page(seat, attempt.tier, filled=filled) | {"changes": attempt, "wrong": wrong}
    return render(request, "planning/team/log_page.html", page, status=status)


@require_POST
def team_run_withdraw(request: HttpRequest, uuid: UUID) -> HttpResponse:
    seat = access.require_team(request)
    return redirect("team_run", withdraw_own(seat, uuid, now=timezone.now()).uuid)


@require_POST
def team_run_again(request: HttpRequest, uuid: UUID) -> HttpResponse:
    """The undo of taking a run back."""
    seat = access.require_team(request)
    try:
        return redirect("team_run", count_again(seat, uuid, now=timezone.now()).uuid)
    except HelmroomError as error:
        messages.error(request, error.message)
        return redirect("team_run", uuid)
