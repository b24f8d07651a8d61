"""A database that somebody else is writing to: the press is tried again, and only then is it said that it has to wait."""

from __future__ import annotations

import logging
from collections.abc import Callable

from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

log = logging.getLogger("helmroom.locked")
#: Each try waits as long as the database does (ten seconds with SQLite).
TRIES = 2
WORDS = (
    "Something large is being written just now. Nothing of yours was changed: go back and press once more in a moment."
)


class TryAgainWhenLocked:
    """A write that never began is begun again. A service is one transaction, so nothing was kept of the first try."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not _is_locked(exception) or request.resolver_match is None:
            return None
        found = request.resolver_match
        for _ in range(TRIES):
            try:
                return found.func(request, *found.args, **found.kwargs)
            except OperationalError as again:
                if not _is_locked(again):
                    raise
        log.warning("the database stayed locked for %s", found.view_name)
        page = {"title": "The database is busy", "words": WORDS, "status": 503}
        response = render(request, "error.html", page, status=503)
        response.headers["Retry-After"] = "10"
        return response


def _is_locked(exception: Exception) -> bool:
    return isinstance(exception, OperationalError) and "locked" in str(exception)
