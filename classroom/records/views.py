"""The club's paperwork: what is kept, the same for children, and an impact assessment to print."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from classroom.access import SignInNeeded, current_club, require_coach
from classroom.models import Club
from classroom.records.pages import kept_groups, where_it_lies, whom_to_ask


def _club_of(request: HttpRequest) -> Club:
    """Coaches, teams and guardians alike may read what their club keeps."""
    club = current_club(request)
    if club is None:
        raise SignInNeeded
    return club


@require_safe
def privacy(request: HttpRequest) -> HttpResponse:
    return render(request, "classroom/records/privacy_page.html", _told(_club_of(request)))


@require_safe
def privacy_children(request: HttpRequest) -> HttpResponse:
    return render(request, "classroom/records/children_page.html", _told(_club_of(request)))


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
