"""The club's paperwork: what is kept, the same for children, and an impact assessment to print."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from classroom.access import SignInNeeded, coach_or_none, current_club, require_coach
from classroom.models import Club, Coach
from classroom.records.pages import kept_groups, one_or_another, where_it_lies, whom_to_ask
from classroom.site.isolated import isolated


def _club_of(request: HttpRequest) -> Club:
    """Coaches, teams and guardians alike may read what their club keeps."""
    club = current_club(request)
    if club is None:
        raise SignInNeeded
    return club


@require_safe
def privacy(request: HttpRequest) -> HttpResponse:
    told = _told(_club_of(request))
    to_coach = coach_or_none(request) is not None
    told["asked"] = ", ".join(_with_address(lead) if to_coach else isolated(lead) for lead in told["leads"])
    return render(request, "classroom/records/privacy_page.html", told)


@require_safe
def privacy_children(request: HttpRequest) -> HttpResponse:
    told = _told(_club_of(request))
    told["asked"] = one_or_another([isolated(lead) for lead in told["leads"]])
    return render(request, "classroom/records/children_page.html", told)


def _with_address(lead: Coach) -> str:
    return f"{isolated(lead)} ({lead.user.email})"


@require_safe
def privacy_impact(request: HttpRequest) -> HttpResponse:
    return render(request, "classroom/records/impact_page.html", _told(require_coach(request).club))


def _told(club: Club) -> dict[str, Any]:
    return {
        "section": "club_settings",
        "groups": kept_groups(club),
        "leads": whom_to_ask(club),
        "where": where_it_lies(),
        "now": timezone.now(),
    }
