"""Where a request comes from: what sign-ins are slowed by."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest


def source_of(request: HttpRequest) -> str:
    """The address of the other end; behind our own proxies, what the nearest of them saw. Others' claims count nothing."""
    proxies = settings.HELMROOM_PROXIES
    passed = [hop.strip() for hop in request.headers.get("X-Forwarded-For", "").split(",") if hop.strip()]
    if proxies and len(passed) >= proxies:
        return passed[-proxies]
    return str(request.META.get("REMOTE_ADDR") or "unknown")
