"""Live pages: a fragment is asked for every two seconds and answered with 304 while nothing has changed.

In a view, after its access line::

    etag = live_etag(coach.club, "board", mission.pk)
    if (still := unchanged(request, etag)) is not None:
        return still
    return mark(render(request, name, {..., "etag": etag}), etag)

In its template the region carries ``data-live``, ``data-etag="{{ etag }}"``, an id and htmx's ``hx-get`` and
``hx-trigger="every 2s, refresh"``; ``static/js/live.js`` does the rest (pausing, the time of the last refresh).
"""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.cache import get_conditional_response, patch_vary_headers

from classroom.models import Club


def live_etag(club: Club, *parts: object) -> str:
    """Differs when anything live has changed in the club, on another day, and for other ``parts`` of a page."""
    words = [club.pk, club.live_version, timezone.localdate(), *parts]
    return '"' + ".".join(str(word).replace('"', "").replace("\\", "") for word in words) + '"'


def unchanged(request: HttpRequest, etag: str) -> HttpResponse | None:
    """304 for a fragment that the page already shows; None when it has to be rendered."""
    if not request.headers.get("HX-Request"):
        return None
    return get_conditional_response(request, etag=etag)


def mark(response: HttpResponse, etag: str) -> HttpResponse:
    """Give a page or fragment its tag. No cache keeps it: a fragment must never stand in for its page."""
    response.headers["ETag"] = etag
    response.headers["Cache-Control"] = "private, no-store"
    patch_vary_headers(response, ["HX-Request"])
    return response
