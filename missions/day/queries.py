"""Queries of the day and the term, one named method for each screen that asks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Q, Sum

if TYPE_CHECKING:
    from classroom.models import Session
    from missions.models import QuickNote, RotaTurn  # noqa: F401


class RotaTurnQuerySet(models.QuerySet["RotaTurn"]):
    def on_screen(self, session: Session) -> Self:
        """A session's turns with the names that a page of the day shows, and nothing else of teams and tiers."""
        return (
            self.filter(session=session)
            .select_related("team", "tier__mission")
            .only("session", "slot", "table", "layout", "by_hand", "team__name", "tier__name", "tier__mission__title")
        )

    def minutes_before(self, session: Session) -> dict[int, int]:
        """Table time of each team in the term's earlier sessions, in minutes."""
        earlier = self.filter(
            Q(session__run__cancelled_at=None),
            session__term=session.term_id,
            session__starts_at__lt=session.starts_at,
            team__isnull=False,
        )
        rows = earlier.order_by().values_list("team").annotate(minutes=Sum("session__run__slot_minutes"))
        return {team: minutes or 0 for team, minutes in rows}


class QuickNoteQuerySet(models.QuerySet["QuickNote"]):
    def on_screen(self, session: Session) -> Self:
        """A session's notes, the newest first, with the names of whom each is about and by."""
        names = ("team__name", "by__user__first_name", "by__user__email")
        return self.filter(session=session).select_related("team", "by__user").only("text", "at", *names)
