"""The reason for which support may change something, for a while."""

from __future__ import annotations

import datetime as dt

from django.http import HttpRequest
from django.utils import timezone

REASON_KEY = "support_reason"
GOOD_FOR = dt.timedelta(minutes=30)


def give_reason(request: HttpRequest, words: str) -> None:
    request.session[REASON_KEY] = {"words": words, "until": (timezone.now() + GOOD_FOR).isoformat()}


def reason_given(request: HttpRequest) -> str:
    """Empty when there is none, or no longer."""
    kept = request.session.get(REASON_KEY) or {}
    return kept.get("words", "") if kept.get("until", "") > timezone.now().isoformat() else ""


def take_reason_back(request: HttpRequest) -> None:
    request.session.pop(REASON_KEY, None)
