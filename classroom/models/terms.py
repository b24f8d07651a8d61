"""The calendar: terms, sessions, who came, the tables they stand at."""

from __future__ import annotations

from django.db import models

from classroom.models.clubs import Club


class Term(models.Model):
    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="terms")
    name = models.CharField(max_length=60)
    starts_on = models.DateField()
    ends_on = models.DateField()
    phases = models.JSONField(
        default=list, blank=True, help_text="The parts of every session: name and minutes; none of them is the runs."
    )

    class Meta:
        ordering = ["-starts_on"]
        constraints = [
            models.UniqueConstraint(fields=["club", "name"], name="term_name_once_per_club"),
            models.CheckConstraint(
                condition=models.Q(ends_on__gte=models.F("starts_on")), name="term_ends_after_it_starts"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Session(models.Model):
    """One afternoon of the club."""

    term = models.ForeignKey(Term, on_delete=models.CASCADE, related_name="sessions")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    place = models.CharField(max_length=80, blank=True)
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["starts_at"]
        constraints = [
            models.UniqueConstraint(fields=["term", "starts_at"], name="one_session_at_a_time"),
            models.CheckConstraint(
                condition=models.Q(ends_at__gt=models.F("starts_at")), name="session_ends_after_it_starts"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.term} {self.starts_at:%d %b}"


class Table(models.Model):
    """A table in the room; its size is what the tape said."""

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="tables")
    name = models.CharField(max_length=40)
    width_mm = models.FloatField()
    depth_mm = models.FloatField()
    order = models.PositiveSmallIntegerField(default=0)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["order", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["club", "name"], name="table_name_once_per_club"),
            models.CheckConstraint(condition=models.Q(width_mm__gt=0, depth_mm__gt=0), name="table_has_a_size"),
        ]

    def __str__(self) -> str:
        return self.name


class Attendance(models.Model):
    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="attendance")
    member = models.ForeignKey("classroom.Member", on_delete=models.CASCADE, related_name="attendance")
    present = models.BooleanField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["session", "member"], name="attendance_once_per_session")]

    def __str__(self) -> str:
        return f"{self.member} {'here' if self.present else 'away'}"


class SafetyCard(models.Model):
    """A caution shown where the work happens. The venue's rules and the kit maker's instructions come first."""

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="safety_cards")
    subject = models.CharField(max_length=40)
    text = models.TextField()
    order = models.PositiveSmallIntegerField(default=0)
    checked_by = models.ForeignKey(
        "classroom.Coach", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    checked_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["order", "pk"]
        constraints = [models.UniqueConstraint(fields=["club", "subject"], name="safety_subject_once_per_club")]

    def __str__(self) -> str:
        return self.subject
