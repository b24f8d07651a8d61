"""A request as the htmx middleware has completed it."""

from __future__ import annotations

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails


class HtmxHttpRequest(HttpRequest):
    """``htmx`` is true for a request that wants a fragment."""

    htmx: HtmxDetails
