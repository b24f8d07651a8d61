"""Each request acts in one club's time zone and in one language; whoever has not signed in is shown the right door."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone, translation
from django.utils.cache import patch_vary_headers
from django.utils.translation import gettext as _

from classroom.access import SignInNeeded, current_club
from classroom.people.services.end_sign_ins import see_sign_in
from classroom.site.languages import language_asked, language_of_request


class ClubMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        # The browser's own first: it holds also for what goes wrong while it is found out who asks.
        with translation.override(language_asked(request)):
            response = self._in_club(request)
            response.headers.setdefault("Content-Language", translation.get_language() or "")
            return response

    def _in_club(self, request: HttpRequest) -> HttpResponse:
        club = current_club(request)
        if request.user.is_authenticated:
            see_sign_in(request, now=timezone.now())
        if club is None:
            response = self.get_response(request)
            patch_vary_headers(response, ["Accept-Language"])
            return response
        translation.activate(language_of_request(request))
        with timezone.override(club.time_zone):
            response = self.get_response(request)
        # A page about children is kept by no shared browser and no proxy: nobody finds it by going back.
        if "Cache-Control" not in response.headers:
            response.headers["Cache-Control"] = "private, no-store"
        return response

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, SignInNeeded):
            return None
        if request.path.startswith("/team/"):
            door = redirect("team_sign_in")
        else:
            door = redirect_to_login(request.get_full_path() if request.method == "GET" else "/")
        if request.headers.get("HX-Request"):
            # A fragment must not swap a sign-in page into the middle of another page.
            return HttpResponse(status=200, headers={"HX-Redirect": door.url})
        if request.headers.get("Accept") == "application/json":
            # A script that asked for data. A redirect would look like that of a Wi-Fi's own sign-in page.
            return JsonResponse({"code": "sign_in", "words": _("Sign in again.")}, status=401)
        return door
