"""A database that somebody else is writing to: the press is tried again, and only then is it said that it has to wait."""

from __future__ import annotations

from collections.abc import Callable

from django.db import OperationalError
from django.http import HttpRequest, HttpResponse

from classroom.site.database_away import is_locked
from classroom.site.error_pages import away

#: Each try waits as long as the database does (ten seconds with SQLite).
TRIES = 2


class TryAgainWhenLocked:
    """A write that never began is begun again. A service is one transaction, so nothing was kept of the first try."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not is_locked(exception) or request.resolver_match is None:
            return None
        found = request.resolver_match
        last: BaseException = exception
        for _ in range(TRIES):
            try:
                return found.func(request, *found.args, **found.kwargs)
            except OperationalError as again:
                if not is_locked(again):
                    raise
                last = again
        return away(request, last)
