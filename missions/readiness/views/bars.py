"""The bar of a tier, and of the whole club: a form, what it means in words, and who changed it before."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from classroom.access import require_coach
from classroom.errors import HelmroomError
from classroom.models import Club, Coach
from classroom.site.clash.mark import CHANGED
from classroom.site.clash.views import clash_or_raise, seen_by
from missions.access import current_tier_version, get_tier
from missions.models import BarChange, Tier
from missions.readiness.forms.bar import BarForm
from missions.readiness.rules.answer import clean_runs_needed
from missions.readiness.rules.evidence import Evidence, Rule
from missions.readiness.rules.rule_words import look_in_words, rule_in_words
from missions.readiness.services.evidence import rule_for
from missions.readiness.services.set_bar import bar_mark, set_club_bar, set_tier_bar


@require_http_methods(["GET", "HEAD", "POST"])
def tier_bar(request: HttpRequest, tier_id: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    tier = get_tier(coach, tier_id)
    edition = current_tier_version(tier)
    if edition is None:
        raise Http404
    form = BarForm(_told(request), policy=coach.club.readiness_policy, edition=edition)
    clash = None
    if request.method == "POST" and form.is_valid():
        why = form.cleaned_data["reason"]
        try:
            set_tier_bar(coach, tier, form.changes(), why, timezone.now(), seen=seen_by(request))
        except HelmroomError as error:
            if error.code == CHANGED:
                clash = clash_or_raise(error, form, lambda: _tier_now(coach, tier))
            else:
                form.add_error(None, error.message)
        else:
            messages.success(
                request, _("The bar of “%(tier)s” is set. Every team was looked at anew.") % {"tier": tier.name}
            )
            return redirect("board_mission", mission_id=tier.mission_id)
    changes = BarChange.objects.filter(tier_version__tier=tier)
    return _page(
        request, form, rule_for(coach.club, edition), changes, {"tier": tier, "section": "missions", "clash": clash}
    )


@require_http_methods(["GET", "HEAD", "POST"])
def club_bar(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request, to_lead=True)
    form = BarForm(_told(request), policy=coach.club.readiness_policy, edition=None)
    clash = None
    if request.method == "POST" and form.is_valid():
        why = form.cleaned_data["reason"]
        try:
            set_club_bar(coach, form.changes(), why, timezone.now(), seen=seen_by(request))
        except HelmroomError as error:
            if error.code == CHANGED:
                clash = clash_or_raise(error, form, lambda: _club_now(coach))
            else:
                form.add_error(None, error.message)
        else:
            messages.success(request, _("The club’s bar is set. Every team was looked at anew."))
            return redirect("board")
    changes = BarChange.objects.filter(club=coach.club, tier_version=None)
    return _page(
        request, form, rule_for(coach.club, None), changes, {"tier": None, "section": "club_settings", "clash": clash}
    )


def _tier_now(coach: Coach, tier: Tier) -> tuple[BarForm, str]:
    form = BarForm(policy=coach.club.readiness_policy, edition=current_tier_version(tier))
    return form, bar_mark(form.own)


def _club_now(coach: Coach) -> tuple[BarForm, str]:
    form = BarForm(policy=Club.objects.get(pk=coach.club_id).readiness_policy, edition=None)
    return form, bar_mark(form.own)


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
        "seen": seen_by(request) if request.method == "POST" else bar_mark(form.own),
    }
    status = 409 if more["clash"] else 422 if request.method == "POST" else 200
    return render(request, "missions/readiness/bar_page.html", page | more, status=status)
