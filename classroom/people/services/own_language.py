"""The language of a coach's own pages, in whichever club."""

from __future__ import annotations

from classroom.models import User
from classroom.site.languages import known_language


def choose_own_language(user: User, language: str) -> None:
    """Empty, or none of ours: the club's."""
    user.language = known_language(language)
    user.save(update_fields=["language"])
