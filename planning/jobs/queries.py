"""Queries of jobs, one named method for each service that asks."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any, Self

from django.db import models
from django.db.models import F, Q

if TYPE_CHECKING:
    from planning.models import Job  # noqa: F401


class JobQuerySet(models.QuerySet["Job"]):
    def answering(self, club: Any, kind: str, digest: str) -> Self:
        """The job that is done, running or waiting for this very input."""
        return self.filter(club=club, kind=kind, input_hash=digest, state__in=["waiting", "running", "done"])

    def answering_any(self, club: Any, kind: str, digests: Any) -> Self:
        """Of several inputs at once."""
        rows = self.select_related("club")
        return rows.filter(club=club, kind=kind, input_hash__in=digests, state__in=["waiting", "running", "done"])

    def unfinished(self) -> Self:
        return self.filter(state__in=["waiting", "running"])

    def claimable(self, now: dt.datetime) -> Self:
        """Those that a worker may take: waiting, or held under a lease that has run out."""
        return self.filter(
            Q(state="waiting") | Q(state="running", lease_until__lt=now),
            cancel_asked_at=None,
            tries__lt=F("max_tries"),
        )

    def overdue(self, now: dt.datetime, *, grace_s: float = 10.0) -> Self:
        """Held by a worker that lives and does not look at the clock: past the deadline, under a lease that it renews.

        One whose lease is over lost its worker, or the whole computer slept: it is tried again first.
        """
        return self.filter(state="running", deadline_at__lt=now - dt.timedelta(seconds=grace_s), lease_until__gte=now)

    def silent(self, now: dt.datetime) -> Self:
        """Running, and nobody has renewed the lease."""
        return self.filter(state="running", lease_until__lt=now)
