"""Where a request comes from: what sign-ins are slowed by."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest

ONLY_HERE = ("localhost", "127.0.0.1", "[::1]")


def only_here(request: HttpRequest) -> bool:
    """Whether the site was asked by a name that works on this computer alone: no good on paper."""
    return request.get_host().rsplit(":", 1)[0] in ONLY_HERE


def source_of(request: HttpRequest) -> str:
    """The address of the other end; behind our own proxies, what the nearest of them saw. Others' claims count nothing."""
    proxies = settings.HELMROOM_PROXIES
    passed = [hop.strip() for hop in request.headers.get("X-Forwarded-For", "").split(",") if hop.strip()]
    if proxies and len(passed) >= proxies:
        return passed[-proxies]
    return str(request.META.get("REMOTE_ADDR") or "unknown")
