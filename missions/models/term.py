"""The term's plan: which missions stand in which session, and the calendar that others may follow."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from classroom.models import Club, Coach, Session, Table
from missions.models.missions import Mission


class PlannedMission(models.Model):
    """A mission on the plan of a session; with ``table`` only at that table, else wherever the rota puts it."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="planned")
    mission = models.ForeignKey(Mission, on_delete=models.CASCADE, related_name="planned")
    table = models.ForeignKey(Table, on_delete=models.CASCADE, null=True, blank=True, related_name="planned")
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["session", "order", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["session", "mission", "table"], name="mission_planned_once_at_a_table"),
            models.UniqueConstraint(
                fields=["session", "mission"], condition=Q(table=None), name="mission_planned_once_per_session"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mission} on {self.session}"


class CalendarFeed(models.Model):
    """The secret address under which a calendar program reads the club's sessions. Only its digest is kept."""

    club = models.OneToOneField(Club, on_delete=models.CASCADE, related_name="calendar_feed")
    token_digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, related_name="+")

    def __str__(self) -> str:
        return f"calendar of {self.club}"
