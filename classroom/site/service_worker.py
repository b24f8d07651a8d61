"""The tablet's service worker, served from where its scope is."""

from __future__ import annotations

from pathlib import Path

from django.contrib.staticfiles import finders
from django.http import FileResponse, Http404, HttpRequest
from django.views.decorators.http import require_safe


@require_safe
def team_worker(request: HttpRequest) -> FileResponse:
    """For anybody: it holds no data, and a browser asks for it without a session."""
    found = finders.find("site/team_worker.js")
    if not isinstance(found, str):
        raise Http404
    return FileResponse(
        Path(found).open("rb"), content_type="text/javascript; charset=utf-8", headers={"Cache-Control": "no-cache"}
    )
