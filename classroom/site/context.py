"""What every template may use: who is here, which club this is, and the languages of the pages."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest

from classroom.access import coach_or_none, current_club, team_or_none
from classroom.site.navigation import SECTIONS


def who(request: HttpRequest) -> dict[str, Any]:
    if not hasattr(request, "session"):
        return {}
    return {
        "languages": settings.LANGUAGES,
        "coach": coach_or_none(request),
        "seat": team_or_none(request),
        "club": current_club(request),
        "sections": SECTIONS,
        "news_every_ms": round(settings.HELMROOM_NEWS_EVERY_S * 1000),
    }
