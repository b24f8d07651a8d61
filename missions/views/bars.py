"""The bar of a tier, and of the whole club: a form, what it means in words, and who changed it before."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from classroom.access import require_coach
from classroom.errors import HelmroomError
from missions.access import current_tier_version, get_tier
from missions.evidence import Evidence, Rule
from missions.forms_bar import BarForm
from missions.models import BarChange
from missions.readiness import clean_runs_needed
from missions.rule_words import look_in_words, rule_in_words
from missions.services.evidence import rule_for
from missions.services.set_bar import set_club_bar, set_tier_bar


@require_http_methods(["GET", "HEAD", "POST"])
def tier_bar(request: HttpRequest, tier_id: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    tier = get_tier(coach, tier_id)
    edition = current_tier_version(tier)
    if edition is None:
        raise Http404
    form = BarForm(_told(request), policy=coach.club.readiness_policy, edition=edition)
    if request.method == "POST" and form.is_valid():
        try:
            set_tier_bar(coach, tier, form.changes(), form.cleaned_data["reason"], timezone.now())
        except HelmroomError as error:
            form.add_error(None, error.message)
        else:
            messages.success(request, f"The bar of “{tier.name}” is set. Every team was looked at anew.")
            return redirect("board_mission", mission_id=tier.mission_id)
    changes = BarChange.objects.filter(tier_version__tier=tier)
    return _page(request, form, rule_for(coach.club, edition), changes, {"tier": tier, "door": "missions"})


@require_http_methods(["GET", "HEAD", "POST"])
def club_bar(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request, to_lead=True)
    form = BarForm(_told(request), policy=coach.club.readiness_policy, edition=None)
    if request.method == "POST" and form.is_valid():
        try:
            set_club_bar(coach, form.changes(), form.cleaned_data["reason"], timezone.now())
        except HelmroomError as error:
            form.add_error(None, error.message)
        else:
            messages.success(request, "The club’s bar is set. Every team was looked at anew.")
            return redirect("board")
    changes = BarChange.objects.filter(club=coach.club, tier_version=None)
    return _page(request, form, rule_for(coach.club, None), changes, {"tier": None, "door": "club_settings"})


def _told(request: HttpRequest) -> Any:
    """What was sent, or what is being typed: a preview asks with GET."""
    if request.method == "POST":
        return request.POST
    return request.GET if request.GET.get("preview") else None


def _page(request: HttpRequest, form: BarForm, rule: Rule, changes: Any, more: dict[str, Any]) -> HttpResponse:
    if form.is_bound:
        form.is_valid()
        numbers_wrong = set(form.errors) - {"reason"}
        rule = rule if numbers_wrong else form.rule_when_saved()
    page = {
        "form": form,
        "rule": rule_in_words(rule),
        "looks": look_in_words(rule),
        "from_nothing": clean_runs_needed(Evidence(), rule, most=40),
        "changes": changes.select_related("by__user")[:20],
        "previewed": form.is_bound,
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "missions/bar.html", page | more, status=status)
