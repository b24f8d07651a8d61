"""Whether somebody is guessing at a team's PIN from many places: then a new code ends it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import Count

from classroom.models import SignInFailure, Team

#: From fewer places, or with fewer wrong PINs, it is a child with an old card.
LEAST_PLACES = 3
LEAST_WRONG = 10
LOOK_BACK = dt.timedelta(days=1)


@dataclass(frozen=True)
class Guessed:
    team: Team
    wrong: int
    places: int


def note_guess(team: Team, source: str, *, now: dt.datetime) -> None:
    """A wrong PIN for a code that is right. ``source`` as the door counts it."""
    SignInFailure.objects.create(source=source, kind=_kind(team), at=now)


def forget_guesses(team: Team) -> None:
    """For a new code, of which nobody has guessed yet."""
    SignInFailure.objects.filter(kind=_kind(team)).delete()


def guessed_codes(teams: Collection[Team], *, now: dt.datetime) -> list[Guessed]:
    by_kind = {_kind(team): team for team in teams}
    rows = SignInFailure.objects.filter(kind__in=by_kind, at__gt=now - LOOK_BACK).order_by().values("kind")
    counted = rows.annotate(wrong=Count("pk"), places=Count("source", distinct=True))
    found = [Guessed(by_kind[row["kind"]], row["wrong"], row["places"]) for row in counted]
    told = [one for one in found if one.places >= LEAST_PLACES and one.wrong >= LEAST_WRONG]
    return sorted(told, key=lambda one: (one.team.order, one.team.name))


def _kind(team: Team) -> str:
    """Refusals are kept by door; this is the door of one team."""
    return f"t{team.pk}"
