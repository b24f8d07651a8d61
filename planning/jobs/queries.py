"""Queries of jobs, one named method for each service that asks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Self

from django.conf import settings
from django.db import models
from django.db.models import F, Max, Min, Q

if TYPE_CHECKING:
    from planning.models import Job


#: What waits so long goes up by one rank, so that nothing waits for ever.
OLDER_BY = dt.timedelta(seconds=60)
#: So far back it matters when a club was served last.
LOOKED_BACK = dt.timedelta(hours=1)
#: By so much the clocks of a server's machines may differ.
CLOCKS_DIFFER = dt.timedelta(minutes=5)


def clock_was_put_back(now: dt.datetime) -> Q:
    """Held longer than anybody could be given it now: by a laptop that was then started anew with its clock set right."""
    return Q(lease_until__gt=now + CLOCKS_DIFFER + dt.timedelta(seconds=settings.HELMROOM_JOB_LEASE_S))


def lease_is_over(now: dt.datetime) -> Q:
    """Nobody holds it any more. A worker that still lives renews its lease by the clock as it is."""
    return Q(lease_until__lt=now) | clock_was_put_back(now)


class JobQuerySet(models.QuerySet["Job"]):
    def answering(self, club: Any, kind: str, digest: str) -> Self:
        """The job that is done, running or waiting for this very input."""
        return self.filter(club=club, kind=kind, input_hash=digest, state__in=["waiting", "running", "done"])

    def telling_of_each(self, club: Any, kind: str, digests: Any) -> dict[str, Job]:
        """By input the job that answers it or will; where there is none, the newest that ended without an answer."""
        rows = self.select_related("club").filter(club=club, kind=kind, input_hash__in=digests)
        answers = ("waiting", "running", "done")
        ended_first: list[Job] = sorted(rows, key=lambda job: (job.state in answers, job.pk))
        return {job.input_hash: job for job in ended_first}

    def unfinished(self) -> Self:
        return self.filter(state__in=["waiting", "running"])

    def claimable(self, now: dt.datetime) -> Self:
        """Those that a worker may take: waiting, or held under a lease that has run out."""
        return self.filter(
            Q(state="waiting") | Q(state="running") & lease_is_over(now),
            cancel_asked_at=None,
            tries__lt=F("max_tries"),
        )

    def next_in_turn(self, now: dt.datetime, ranks: Mapping[str, int]) -> int | None:
        """The job that a free worker should take, in two queries.

        The lowest rank of its kind goes first, among them the club that was served longest ago, and its oldest job. So a
        club that has asked for 500 things holds nobody up for more than the one that is being done.
        """
        lines = list(self.claimable(now).values("club", "kind").annotate(first=Min("pk"), since=Min("created_at")))
        clubs = {line["club"] for line in lines}
        served = (
            self.filter(club__in=clubs, started_at__gte=now - LOOKED_BACK).values("club").annotate(at=Max("started_at"))
        )
        last = {line["club"]: line["at"] for line in served} if len(clubs) > 1 else {}
        never = now - LOOKED_BACK

        def turn(line: dict[str, Any]) -> tuple[int, dt.datetime, int]:
            older = max(0, (now - line["since"]) // OLDER_BY)
            return max(0, ranks.get(line["kind"], 0) - older), last.get(line["club"], never), line["first"]

        return min(lines, key=turn)["first"] if lines else None

    def before(self, job: Job, ranks: Mapping[str, int]) -> Self:
        """Those of the same club that wait and are done before this one."""
        own = ranks.get(job.kind, 0)
        first = [kind for kind, rank in ranks.items() if rank < own]
        alike = [kind for kind, rank in ranks.items() if rank == own]
        earlier = Q(kind__in=first) | Q(kind__in=alike, pk__lt=job.pk)
        return self.filter(earlier, club=job.club_id, state="waiting")

    def stands_still(self, now: dt.datetime, since: dt.timedelta) -> bool:
        """Whether no worker has begun anything for so long, nor is at work."""
        begun = Q(started_at__gte=now - since, started_at__lte=now + CLOCKS_DIFFER)
        recent = begun | Q(state="running") & ~lease_is_over(now)
        return not self.filter(recent).exists()

    def overdue(self, now: dt.datetime, *, grace_s: float = 10.0) -> Self:
        """Held by a worker that lives and does not look at the clock: past the deadline, under a lease that it renews.

        One whose lease is over lost its worker, or the whole computer slept: it is tried again first.
        """
        late = Q(state="running", deadline_at__lt=now - dt.timedelta(seconds=grace_s))
        return self.filter(late, ~lease_is_over(now))

    def silent(self, now: dt.datetime) -> Self:
        """Running, and nobody has renewed the lease."""
        return self.filter(lease_is_over(now), state="running")
