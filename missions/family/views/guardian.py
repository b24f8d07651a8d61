"""Pages of the guardian who came in by a link."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from classroom.access import require_family
from classroom.models import SummaryLink


def for_guardian(view: Callable[[HttpRequest, SummaryLink], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """The view is handed the link of this visit; when that is over, the page says so."""

    @wraps(view)
    def wrapped(request: HttpRequest) -> HttpResponse:
        try:
            link = require_family(request)
        except Http404:
            return render(request, "missions/family/link_over_page.html", status=404)
        return view(request, link)

    return wrapped
