"""The evidence of one team in one tier, and taking a run out of it."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from classroom.access import get_team, require_coach
from classroom.errors import HelmroomError
from classroom.models import Coach, Team
from classroom.site.htmx_request import HtmxHttpRequest
from classroom.site.isolated import isolated
from classroom.site.live import answer_live, live_tag
from missions.access import get_attempt, get_tier
from missions.models import Tier
from missions.readiness.pages.evidence import read_evidence
from missions.readiness.views.decisions import decided
from missions.runs.services.record_attempt import withdraw_attempt


@require_safe
def evidence(request: HtmxHttpRequest, team_id: int, tier_id: int) -> HttpResponse:
    coach = require_coach(request)
    team, tier = get_team(coach, team_id), get_tier(coach, tier_id)
    tag = live_tag(coach.club, "evidence", team.pk, tier.pk, coach.role, timezone.localdate())
    template = "missions/readiness/evidence_part.html" if request.htmx else "missions/readiness/evidence_page.html"
    return answer_live(request, template, tag, lambda: _context(coach, team, tier))


@require_http_methods(["GET", "HEAD", "POST"])
def withdraw_run(request: HtmxHttpRequest, attempt_id: int) -> HttpResponse:
    """Ask once, then take the run out of what counts."""
    coach = require_coach(request, to_change=True)
    run = get_attempt(coach, attempt_id)
    problem = ""
    if request.method == "POST":
        try:
            withdraw_attempt(run, now=timezone.now(), by=coach)
        except HelmroomError as error:
            problem = error.message
        else:
            words = _("A run of %(team)s on %(made_at)s no longer counts.") % {
                "team": isolated(run.team),
                "made_at": date_format(timezone.localtime(run.made_at), "TWO_DIGIT_MONTH_DAY_FORMAT"),
            }
            return decided(request, words, "evidence", run.tier.mission_id)
    template = "missions/readiness/withdraw_part.html" if request.htmx else "missions/readiness/withdraw_page.html"
    status = 409 if problem and not request.htmx else 200
    return render(request, template, {"run": run, "problem": problem, "section": "board"}, status=status)


def _context(coach: Coach, team: Team, tier: Tier) -> dict[str, Any]:
    page = read_evidence(coach.club, team, tier, timezone.now())
    if page is None:
        raise Http404
    return {"page": page, "section": "board"}
