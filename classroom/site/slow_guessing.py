"""Guessing at a door is slowed by where it comes from; nobody who belongs there is locked out by others' guesses."""

from __future__ import annotations

import datetime as dt
import ipaddress

from django.db import connection, transaction

from classroom.models import SignInFailure
from classroom.site.request_source import plain_address

TRIES = 20
WINDOW = dt.timedelta(minutes=10)
IPV6_PREFIX = 56


def count_try(source: str, kind: str, *, now: dt.datetime) -> SignInFailure | None:
    """Count a try before it is looked at; None when ``TRIES`` of this source have failed within ``WINDOW``.

    Many at once get no more of them than one after the other. Whoever was let in deletes the row again.
    """
    kept = network_of(source)
    with transaction.atomic():
        _wait_in_line(kept, kind)
        if SignInFailure.objects.filter(source=kept, kind=kind, at__gt=now - WINDOW).count() >= TRIES:
            return None
        return SignInFailure.objects.create(source=kept, kind=kind, at=now)


def network_of(source: str) -> str:
    """The address, or for IPv6 its /56: one house is given that many to guess from (RFC 6177, section 2)."""
    source = plain_address(source)
    try:
        address = ipaddress.ip_address(source)
    except ValueError:
        return source[:64]
    if address.version == 6:
        return str(ipaddress.ip_network((address, IPV6_PREFIX), strict=False))
    return str(address)


def _wait_in_line(source: str, kind: str) -> None:
    """One try of a source at a time, until the end of the transaction. SQLite's own (IMMEDIATE) already are."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [f"{kind} sign-in {source}"])
