"""Security headers on whatever goes out, also on what never got as far as the middleware that usually sets them."""

from __future__ import annotations

from collections.abc import Callable

from csp.utils import build_policy
from django.conf import settings
from django.http import HttpRequest, HttpResponse

from classroom.site.request_id import new_request_id, request_id

PARTS = ("text/css", "text/javascript")


class EveryHeader:
    """Outermost. A header that is there already stays: a secret page's ``no-referrer`` is stricter than the usual one."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        told = request_id.set(new_request_id())
        try:
            response = self.get_response(request)
            response.headers["X-Request-ID"] = request_id.get()
        finally:
            request_id.reset(told)
        documents_only = {} if _is_part_of_a_page(request, response) else _document_headers()
        for name, value in (_headers(secure=request.is_secure()) | documents_only).items():
            response.headers.setdefault(name, value)
        return response


def _is_part_of_a_page(request: HttpRequest, response: HttpResponse) -> bool:
    """A style sheet or a module: what guards a document costs a tablet 600 bytes a file and guards nothing there."""
    kind = response.headers.get("Content-Type", "").partition(";")[0]
    return request.path.startswith(settings.STATIC_URL) and kind in PARTS


def _document_headers() -> dict[str, str]:
    """OWASP ASVS 5.0.0, 3.4."""
    return {
        "Content-Security-Policy": build_policy(),
        "Cross-Origin-Opener-Policy": settings.SECURE_CROSS_ORIGIN_OPENER_POLICY,
        "Permissions-Policy": settings.PERMISSIONS_POLICY,
        "Referrer-Policy": settings.SECURE_REFERRER_POLICY,
        "X-Frame-Options": settings.X_FRAME_OPTIONS,
    }


def _headers(*, secure: bool) -> dict[str, str]:
    """Of everything: OWASP ASVS 5.0.0, 3.4."""
    headers = {"X-Content-Type-Options": "nosniff"}
    if secure and settings.SECURE_HSTS_SECONDS:
        parts = [f"max-age={settings.SECURE_HSTS_SECONDS}"]
        parts += ["includeSubDomains"] if settings.SECURE_HSTS_INCLUDE_SUBDOMAINS else []
        parts += ["preload"] if settings.SECURE_HSTS_PRELOAD else []
        headers["Strict-Transport-Security"] = "; ".join(parts)
    return headers
