"""The day: how a session is run, who is late, who stands at which table when."""

from __future__ import annotations

import datetime as dt

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from classroom.models import Coach, Member, Session, Table, Team
from missions.day.queries import QuickNoteQuerySet, RotaTurnQuerySet
from missions.models.missions import Tier


class SessionRun(models.Model):
    """How one session is run. Slots are counted from ``clock_from`` (its start, or when the coach really began)."""

    session = models.OneToOneField(Session, on_delete=models.CASCADE, related_name="run")
    slot_minutes = models.PositiveSmallIntegerField(
        "minutes a turn at a table", default=10, validators=[MinValueValidator(3), MaxValueValidator(60)]
    )
    needs_first = models.BooleanField("teams that need a look come first", default=True)
    started_at = models.DateTimeField(null=True, blank=True)
    stopped_at = models.DateTimeField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancelled_why = models.CharField(max_length=120, blank=True)
    solved_at = models.DateTimeField(null=True, blank=True)
    goals = models.JSONField(default=list, blank=True, help_text="What the last rota reached: name, value, least.")
    better_wanted = models.JSONField(
        null=True, blank=True, help_text="The task of the rota that stands, while a better one may be found for it."
    )
    sequence = models.PositiveIntegerField(default=0, help_text="Goes up when the calendar entry changes (RFC 5545).")
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(slot_minutes__range=(3, 60)), name="slot_is_three_to_sixty_minutes"),
            models.CheckConstraint(
                condition=Q(stopped_at=None) | Q(started_at__isnull=False, stopped_at__gte=models.F("started_at")),
                name="session_stops_after_it_started",
            ),
        ]

    def __str__(self) -> str:
        return f"run of {self.session}"

    @property
    def clock_from(self) -> dt.datetime:
        return self.started_at or self.session.starts_at


class TeamDay(models.Model):
    """What is different about a team in one session: away, or here only from a time on."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="team_days")
    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="days")
    away = models.BooleanField(default=False)
    late_until = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["session", "team"], name="team_day_once_per_session")]

    def __str__(self) -> str:
        return f"{self.team} on {self.session}"


class RotaTurn(models.Model):
    """A team at a table in a slot. Without a team: a place that a coach keeps free.

    ``layout`` is the digest of what the table must be laid for, so that a change of set-up shows by comparing two.
    """

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="rota_turns")
    slot = models.PositiveSmallIntegerField()
    table = models.ForeignKey(Table, on_delete=models.CASCADE, related_name="rota_turns")
    team = models.ForeignKey(Team, on_delete=models.CASCADE, null=True, blank=True, related_name="rota_turns")
    tier = models.ForeignKey(Tier, on_delete=models.SET_NULL, null=True, blank=True, related_name="rota_turns")
    layout = models.CharField(max_length=12, blank=True)
    by_hand = models.BooleanField(default=False)

    objects = RotaTurnQuerySet.as_manager()

    class Meta:
        ordering = ["session", "slot", "table__order", "table"]
        constraints = [
            models.UniqueConstraint(fields=["session", "slot", "table"], name="one_team_at_a_table"),
            models.UniqueConstraint(
                fields=["session", "slot", "team"], condition=Q(team__isnull=False), name="team_at_one_table_at_a_time"
            ),
            models.CheckConstraint(condition=Q(team__isnull=False) | Q(by_hand=True), name="kept_free_only_by_hand"),
        ]

    def __str__(self) -> str:
        return f"slot {self.slot}: {self.team or 'kept free'} at {self.table}"


class TeamJob(models.Model):
    """A job of one turn as a team's tap has given it; what nobody tapped goes round by itself."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="team_jobs")
    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="jobs_of_turns")
    slot = models.PositiveSmallIntegerField()
    job = models.CharField(max_length=10)
    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="jobs_of_turns")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["session", "team", "slot", "job"], name="a_job_of_a_turn_once"),
            models.CheckConstraint(condition=Q(job__in=["drive", "type", "measure", "log"]), name="team_job_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.job}: {self.member}"


class QuickNote(models.Model):
    """A line that a coach jots down during a session, about a team or about all."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="quick_notes")
    team = models.ForeignKey(Team, on_delete=models.SET_NULL, null=True, blank=True, related_name="quick_notes")
    text = models.CharField(max_length=300)
    at = models.DateTimeField()
    by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, related_name="+")

    objects = QuickNoteQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [models.CheckConstraint(condition=~Q(text=""), name="quick_note_says_something")]

    def __str__(self) -> str:
        return self.text
