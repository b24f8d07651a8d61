"""A coach marks for a team that something was changed, and takes such a mark back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom.access import get_team, require_coach
from classroom.errors import HelmroomError
from classroom.site.isolated import isolated
from missions.access import get_change_mark, get_tier
from missions.readiness.forms.change import ChangeForm
from missions.readiness.services.mark_change import mark_change, take_back_mark


@require_POST
def mark(request: HttpRequest, team_id: int, tier_id: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    team, tier = get_team(coach, team_id), get_tier(coach, tier_id)
    form = ChangeForm(request.POST)
    if form.is_valid():
        mark_change(team, tier, form.cleaned_data["part"], form.cleaned_data["words"], timezone.now(), coach=coach)
        messages.success(
            request,
            _("Marked: something was changed. Earlier runs of %(team)s count for less from now on.")
            % {"team": isolated(team)},
        )
    else:
        messages.error(request, form.wrong)
    return redirect("evidence", team_id=team.pk, tier_id=tier.pk)


@require_POST
def take_back(request: HttpRequest, team_id: int, tier_id: int, mark_id: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    team, tier = get_team(coach, team_id), get_tier(coach, tier_id)
    try:
        take_back_mark(get_change_mark(team, mark_id), coach, timezone.now())
    except HelmroomError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, _("Taken back: nothing was changed then, and the earlier runs count as before."))
    return redirect("evidence", team_id=team.pk, tier_id=tier.pk)
