"""A guardian's door and the summary of one child behind it."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.middleware.csrf import CsrfViewMiddleware, rotate_token
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.decorators import decorator_from_middleware
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe

from classroom.access import FAMILY_KEY, require_family
from classroom.services.share_summary import open_link
from missions.services.summary import summary_for

View = Callable[..., HttpResponse]


def unseen(view: View) -> View:
    """Kept by no cache, told to no other site: the address alone opens the page."""

    @wraps(view)
    def wrapped(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = view(request, *args, **kwargs)
        response.headers["Cache-Control"] = "no-store, private"
        response.headers["Referrer-Policy"] = "no-referrer"
        response.headers["X-Robots-Tag"] = "noindex, nofollow"
        return response

    return wrapped


class _WithoutOrigin(CsrfViewMiddleware):
    """The usual check of token against cookie, for a page that tells nobody where it came from.

    Under ``no-referrer`` browsers send ``Origin: null`` with a form (Fetch standard, "append a request Origin
    header"), which Django would refuse before it looks at the token.
    """

    def _origin_verified(self, request: HttpRequest) -> bool:
        return request.META.get("HTTP_ORIGIN") == "null" or super()._origin_verified(request)  # type: ignore[misc]


own_csrf = decorator_from_middleware(_WithoutOrigin)


@csrf_exempt
@own_csrf
@unseen
@require_http_methods(["GET", "HEAD", "POST"])
def family_door(request: HttpRequest, token: str) -> HttpResponse:
    """GET says nothing of whose door it is, nor whether it opens; the button exchanges the token for a short visit."""
    if request.method != "POST":
        return render(request, "missions/family/door.html")
    link = open_link(token, now=timezone.now())
    if link is None:
        return render(request, "missions/family/shut.html", status=404)
    request.session.flush()
    request.session[FAMILY_KEY] = link.pk
    request.session.set_expiry(settings.HELMROOM_FAMILY_MINUTES * 60)
    rotate_token(request)
    return redirect("family")


@unseen
@require_safe
def family(request: HttpRequest) -> HttpResponse:
    try:
        link = require_family(request)
    except Http404:
        return render(request, "missions/family/shut.html", status=404)
    now = timezone.now()
    return render(request, "missions/family/summary.html", {"summary": summary_for(link.member, now=now), "now": now})
