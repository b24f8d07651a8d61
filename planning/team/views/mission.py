"""Our mission: what there is to do, and what the next tier needs."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from classroom import access
from missions.access import get_open_tier
from missions.ladder.pages.tablet_tiers import chosen_tier, progress_of
from missions.readiness.forms.change import ChangeForm
from missions.readiness.services.mark_change import mark_change
from planning.team.pages.mission import mission_page


@require_safe
def team_mission(request: HttpRequest) -> HttpResponse:
    seat = access.require_team(request)
    offered, gone = progress_of(seat)
    tier = chosen_tier(seat, request.GET.get("tier"), offered)
    if tier is None:
        return render(request, "planning/team/nothing_open_page.html", {"tab": "team_mission", "left_out": gone})
    return render(request, "planning/team/mission_page.html", mission_page(seat, tier, offered, gone, timezone.now()))


@require_POST
def team_changed(request: HttpRequest) -> HttpResponse:
    """The team says that it changed something: its earlier runs count for less from now on."""
    seat = access.require_team(request)
    tier = get_open_tier(seat, access.as_key(request.POST.get("tier", "")))
    form = ChangeForm(request.POST)
    if form.is_valid():
        mark_change(seat.team, tier, form.cleaned_data["part"], form.cleaned_data["words"], timezone.now())
        messages.success(request, _("Good to know. Your next runs show what the change does."))
    else:
        messages.error(request, form.wrong)
    return redirect(f"{reverse('team_mission')}?tier={tier.pk}")
