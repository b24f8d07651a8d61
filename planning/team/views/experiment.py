"""What a team thinks and tries: its guess before the tablet's answer, the tablet's numbers as a test, the end of a test."""

from __future__ import annotations

from uuid import UUID, uuid5

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom import access
from missions.access import get_own_attempt
from missions.models import Guess
from missions.runs.services.trials import TrialInput, end_trial, keep_trial
from planning.team.what_runs_say import what_runs_say


@require_POST
def team_run_guess(request: HttpRequest, uuid: UUID) -> HttpResponse:
    seat = access.require_team(request)
    attempt = get_own_attempt(seat, uuid)
    if request.POST.get("guess") in Guess.values:
        attempt.guess = request.POST["guess"]
        attempt.save(update_fields=["guess"])
    return redirect("team_run", uuid)


@require_POST
def team_try_numbers(request: HttpRequest, uuid: UUID) -> HttpResponse:
    """The numbers that the tablet proposes after a run are pinned to the next runs, as a try of its plan."""
    seat = access.require_team(request)
    attempt = get_own_attempt(seat, uuid)
    now = timezone.now()
    said = what_runs_say(attempt, seat.club.unit, now)
    if said is None or not said.rows or attempt.plan_number is None:
        messages.error(request, _("There are no other numbers to try any more. Log one more run."))
        return redirect("team_run", uuid)
    told = TrialInput(uuid5(attempt.uuid, "numbers"), attempt.plan_number, said.numbers_in_words)
    typed = _("%(does)s, typed as %(number)s")
    numbers = [typed % {"does": row.does, "number": row.turn} if row.turn else row.does for row in said.rows]
    keep_trial(seat.team, attempt.tier_id, told, now=now, numbers=numbers)
    messages.success(request, _("Pinned: your next runs test these numbers."))
    return redirect(f"{reverse('team_log')}?tier={attempt.tier_id}")


@require_POST
def team_trial_end(request: HttpRequest, uuid: UUID) -> HttpResponse:
    seat = access.require_team(request)
    end_trial(seat.team, uuid, now=timezone.now())
    messages.success(request, _("The test is over. Your next runs are of the plan itself."))
    return redirect("team_log")
