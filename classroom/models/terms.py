"""The calendar: terms, sessions, who came, the tables they stand at."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from classroom.models.clubs import Club
from motion.scene.records import MISSING_CORNERS, MissingCorner


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


class MeasuredTable(models.Model):
    """A table's outline: a rectangle, or an L that lacks a smaller rectangle at one of its corners."""

    width_mm = models.FloatField()
    depth_mm = models.FloatField()
    missing_corner = models.CharField(
        max_length=10, blank=True, choices=[(corner, f"the {corner} corner") for corner in MISSING_CORNERS]
    )
    missing_width_mm = models.FloatField(default=0.0)
    missing_depth_mm = models.FloatField(default=0.0)

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(missing_corner="", missing_width_mm=0, missing_depth_mm=0)
                | Q(
                    missing_corner__in=MISSING_CORNERS,
                    missing_width_mm__gt=0,
                    missing_depth_mm__gt=0,
                    missing_width_mm__lt=F("width_mm"),
                    missing_depth_mm__lt=F("depth_mm"),
                ),
                name="%(class)s_lacks_less_than_it_is",
            )
        ]

    @property
    def missing(self) -> MissingCorner | None:
        if not self.missing_corner:
            return None
        return MissingCorner(self.missing_corner, self.missing_width_mm, self.missing_depth_mm)

    @missing.setter
    def missing(self, corner: MissingCorner | None) -> None:
        self.missing_corner = corner.corner if corner else ""
        self.missing_width_mm = corner.width_mm if corner else 0.0
        self.missing_depth_mm = corner.depth_mm if corner else 0.0


class Table(MeasuredTable):
    """A table in the room; its size is what the tape said."""

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="tables")
    name = models.CharField(max_length=40)
    order = models.PositiveSmallIntegerField(default=0)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["order", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["club", "name"], name="table_name_once_per_club"),
            models.CheckConstraint(condition=models.Q(width_mm__gt=0, depth_mm__gt=0), name="table_has_a_size"),
            *MeasuredTable.Meta.constraints,
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
