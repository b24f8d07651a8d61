"""The jobs in a team, on its own tablet."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom.access import as_key, require_team
from classroom.errors import HelmroomError
from classroom.site.isolated import isolated
from missions.day.services.pass_job import pass_job, share_jobs_again


@require_POST
def team_jobs(request: HttpRequest) -> HttpResponse:
    """``job`` goes to the next child; ``do`` again shares them out as they go round."""
    seat = require_team(request)
    now = timezone.now()
    try:
        if request.POST.get("do") == "again":
            share_jobs_again(seat.team, now=now)
            messages.success(request, _("The jobs go round again."))
        else:
            who = pass_job(seat.team, request.POST.get("job", ""), now=now)
            messages.success(
                request, _("%(who)s has that job now. Tap again for the next one.") % {"who": isolated(who)}
            )
    except HelmroomError as error:
        messages.error(request, error.message)
    tier = as_key(request.POST.get("tier", ""))
    return redirect(reverse("team_mission") + (f"?tier={tier}" if tier else "") + "#jobs")
