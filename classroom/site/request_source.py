"""Where a request comes from: what sign-ins are slowed by."""

from __future__ import annotations

import ipaddress

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
        return plain_address(passed[-proxies])
    return plain_address(str(request.META.get("REMOTE_ADDR") or "unknown"))


def plain_address(text: str) -> str:
    """An address without the port that some proxies add, and an IPv4 one in IPv6's clothes as what it is.

    Else each connection would be a source of its own, or all of IPv4 one.

    >>> plain_address("203.0.113.9:51034"), plain_address("[2001:db8::1]:443"), plain_address("::ffff:203.0.113.9")
    ('203.0.113.9', '2001:db8::1', '203.0.113.9')
    """
    bare = text.strip().strip('"')
    if bare.startswith("["):
        bare = bare[1:].partition("]")[0]
    elif bare.count(":") == 1:
        bare = bare.partition(":")[0]
    try:
        address = ipaddress.ip_address(bare.partition("%")[0])
    except ValueError:
        return text
    mapped = address.ipv4_mapped if address.version == 6 else None
    return str(mapped or address)
