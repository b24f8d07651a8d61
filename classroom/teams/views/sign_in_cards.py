"""Sign-in cards to print: a team's code, its QR, and (only when just made) its PIN."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString
from django.views.decorators.cache import never_cache

from classroom.access import get_team, require_coach
from classroom.models import Coach, Team
from classroom.site.kept_part import kept_markup
from classroom.site.qr import qr_svg
from classroom.site.request_source import only_here
from classroom.teams.services.join_codes import code_is_open, issue_pin, spaced


@dataclass(frozen=True)
class SignInCard:
    team: Team
    code: str
    open: bool
    qr: SafeString
    pin: str


@never_cache
def cards(request: HttpRequest) -> HttpResponse:
    """All teams' cards. POST makes a new PIN for every team and shows it this once."""
    coach = require_coach(request, to_change=True)
    return _cards(request, coach, list(Team.objects.filter(club=coach.club).active()))


@never_cache
def card(request: HttpRequest, pk: int) -> HttpResponse:
    """One team's card. POST makes it a new PIN and shows it this once."""
    coach = require_coach(request, to_change=True)
    team = get_team(coach, pk)
    return _cards(request, coach, [team], team)


def _drawn(address: str) -> SafeString:
    """Remembered: it is the slowest part of the page. Other codes bear what is kept nowhere, and are drawn each time."""
    return kept_markup("qr", lambda: qr_svg(address), address)


def _cards(request: HttpRequest, coach: Coach, teams: list[Team], only: Team | None = None) -> HttpResponse:
    now = timezone.now()
    door = request.build_absolute_uri(reverse("team_sign_in"))
    made = []
    for team in teams:
        pin = issue_pin(team, coach, now=now) if request.method == "POST" else ""
        address = request.build_absolute_uri(reverse("team_sign_in_code", args=[team.join_code]))
        made.append(SignInCard(team, spaced(team.join_code), code_is_open(team, now), _drawn(address), pin))
    context = {
        "section": "teams",
        "cards": made,
        "only": only,
        "with_pins": request.method == "POST",
        "address": door.split("://", 1)[1].rstrip("/"),
        "only_here": only_here(request),
    }
    return render(request, "classroom/teams/sign_in_cards_page.html", context)
