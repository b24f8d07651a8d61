"""Live fragments: a tag for what they show, so that a quiet poll costs a 304 and no query of its own.

The fragment carries its tag (``data-live="{{ live_tag }}"``) and polls with ``hx-get`` and ``hx-trigger="every 2s"``;
``static/site/live.js`` sends the tag along, leaves the fragment alone on 304, and lets people pause.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import render
from django.utils.cache import patch_vary_headers

from classroom.models import Club


def live_tag(club: Club, *also: object) -> str:
    """A tag for what a club's live page shows; ``also`` is whatever else it hangs on, such as the present slot."""
    return _tag(club.pk, club.live_version, *also)


def news_tag(club: Club, *also: object) -> str:
    """As ``live_tag``, for what a tablet tells its team: runs of a session change nothing of it."""
    return _tag(club.pk, club.news_version, *also)


def _tag(*parts: object) -> str:
    return hashlib.sha256("|".join(str(part) for part in parts).encode()).hexdigest()[:20]


def answer_live(request: HttpRequest, template: str, tag: str, context: Callable[[], dict[str, Any]]) -> HttpResponse:
    """The page or its fragment; 304 when the asker already has it. ``context`` is only called when it is needed."""
    quoted = f'"{tag}"'
    # Compressed answers carry their tag as a weak one; If-None-Match compares weakly (RFC 9110, 13.1.2).
    has = request.headers.get("If-None-Match", "").removeprefix("W/")
    if request.headers.get("HX-Request") and has == quoted:
        response: HttpResponse = HttpResponseNotModified()
    else:
        response = render(request, template, {**context(), "live_tag": tag})
    response.headers["ETag"] = quoted
    # Page and fragment share an address: no cache may give one for the other.
    response.headers["Cache-Control"] = "private, no-store"
    patch_vary_headers(response, ["HX-Request"])
    return response
