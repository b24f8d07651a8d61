"""Which session it is: the one that is on, the next, the last."""

from __future__ import annotations

import datetime as dt

from django.db.models import QuerySet

from classroom.models import Club, Session

#: A session counts as the present one from this long before its start and after its end.
AROUND = dt.timedelta(minutes=45)


def sessions_of(club: Club) -> QuerySet[Session]:
    """The club's sessions that take place, each with how it is run."""
    return Session.objects.filter(run__cancelled_at=None, term__club=club).select_related("term__club", "run")


def nearest_session(club: Club, now: dt.datetime) -> Session | None:
    held = sessions_of(club)
    on = held.filter(starts_at__lte=now + AROUND, ends_at__gte=now - AROUND).order_by("starts_at").first()
    return on or held.filter(starts_at__gt=now).order_by("starts_at").first() or held.order_by("-starts_at").first()
