"""A page that needs the planner before it is ready says so, and goes on by itself."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.cache import add_never_cache_headers

from planning.preparing.checks import NotReadyError


class WaitForPlanner:
    """Where a view meets the planner before it is ready, the address shows that it waits until it can show the rest."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, NotReadyError):
            return None
        if request.headers.get("HX-Request"):
            return HttpResponse(headers={"HX-Refresh": "true"})  # no whole page in the middle of another
        of_team = request.path.startswith("/team/")
        page = "planning/preparing/team_page.html" if of_team else "planning/preparing/coach_page.html"
        response = render(request, page)
        add_never_cache_headers(response)
        return response
