"""Pages whose address is a secret: kept by no cache, and told to nobody else."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.middleware.csrf import CsrfViewMiddleware
from django.utils.decorators import decorator_from_middleware
from django.views.decorators.csrf import csrf_exempt

View = Callable[..., HttpResponseBase]


class _WithoutOrigin(CsrfViewMiddleware):
    """The usual check of token against cookie, for a page that tells nobody where it came from.

    Under ``no-referrer`` browsers send ``Origin: null`` with a form (Fetch standard, "append a request Origin
    header"), which Django would refuse before it looks at the token.
    """

    def _origin_verified(self, request: HttpRequest) -> bool:
        return request.META.get("HTTP_ORIGIN") == "null" or super()._origin_verified(request)  # type: ignore[misc]


def told_to_nobody(view: View) -> View:
    """Sends ``no-store`` and ``no-referrer``."""

    @wraps(view)
    def wrapped(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        response = view(request, *args, **kwargs)
        response.headers["Cache-Control"] = "no-store, private"
        response.headers["Referrer-Policy"] = "no-referrer"
        response.headers["X-Robots-Tag"] = "noindex, nofollow"
        return response

    return wrapped


def secret_page(view: View) -> View:
    """As ``told_to_nobody``, and keeps the form's own protection working under it."""
    return csrf_exempt(decorator_from_middleware(_WithoutOrigin)(told_to_nobody(view)))
