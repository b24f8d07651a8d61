"""The tablet's door: a team signs in and out; a coach may open a tablet for it."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import rotate_token
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from classroom import access
from classroom.errors import InputError
from classroom.models import TabletSession, Team
from classroom.site.isolated import isolated
from classroom.site.languages import ASKED, known_language
from classroom.site.request_source import source_of
from classroom.teams.services.tablet_sign_in import open_tablet_for, sign_in_tablet, sign_out_tablet
from classroom.teams.tablet_forms import TeamSignInForm


@require_http_methods(["GET", "POST"])
def team_sign_in(request: HttpRequest, code: str = "") -> HttpResponse:
    """By code and PIN; a card's QR address brings the code along."""
    if request.method == "GET" and not code and access.team_or_none(request):
        return redirect("team_mission")
    form = TeamSignInForm(request.POST or None, initial={"code": code})
    status = 200
    if form.is_valid():
        try:
            tablet = sign_in_tablet(
                **form.cleaned_data,
                source=source_of(request),
                now=timezone.now(),
                language=request.POST.get("language", ""),
            )
        except InputError as error:
            form.add_error(None, error.message)
            status = 429 if error.code == "too_many_tries" else 200
        else:
            return _let_in(request, tablet)
    chosen = known_language(request.GET.get(ASKED))
    page = {"form": form, "code": code, "opener": access.coach_or_none(request), "language_chosen": chosen}
    return render(request, "classroom/teams/tablet_sign_in_page.html", page, status=status)


@require_http_methods(["GET", "POST"])
def team_sign_out(request: HttpRequest) -> HttpResponse:
    """Says first what signing out means; nothing is lost by going back."""
    seat = access.require_team(request)
    if request.method == "GET":
        return render(request, "classroom/teams/tablet_sign_out_page.html", {"tab": "leave"})
    sign_out_tablet(seat.tablet, now=timezone.now())
    request.session.flush()
    messages.success(request, _("Signed out. Goodbye, %(team)s.") % {"team": isolated(seat.team.name)})
    return redirect("team_sign_in")


@require_http_methods(["GET", "POST"])
def team_open(request: HttpRequest) -> HttpResponse:
    """A coach turns the tablet in hand into a team's. The coach is signed out of it by this."""
    coach = access.require_coach(request, to_change=True)
    if request.method == "GET":
        teams = Team.objects.active().filter(club=coach.club).with_robot()
        return render(request, "classroom/teams/tablet_open_page.html", {"teams": teams, "section": "teams"})
    team = access.get_team(coach, access.as_key(request.POST.get("team")))
    return _let_in(request, open_tablet_for(coach, team, now=timezone.now()))


def _let_in(request: HttpRequest, tablet: TabletSession) -> HttpResponse:
    """A new session key, and no coach's rights left on a tablet that children hold."""
    logout(request)
    request.session[access.TABLET_KEY] = tablet.pk
    request.session.set_expiry(settings.HELMROOM_TABLET_HOURS * 3600)
    rotate_token(request)
    return redirect("team_mission")
