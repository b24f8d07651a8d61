"""Where each team stands in each tier, and every change of it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from classroom.models import Club, Coach, Team
from missions.models.missions import Tier, TierVersion
from missions.readiness.queries import ProgressChangeQuerySet, ProgressQuerySet


class ProgressState(models.TextChoices):
    NOT_OPEN = "not_open", "Not open yet"
    WORKING = "working", "Working"
    PASSED = "passed", "Passed"


class Progress(models.Model):
    """A team in a tier. No row means not open.

    ``state`` is what a coach has decided. ``evidence`` is the running summary that missions.readiness.rules.evidence keeps (so that a
    new run costs the same whatever the history); ``answer``, ``answer_kind``, ``why`` and ``need`` are what the rule
    made of it at ``updated_at``.
    """

    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="progress")
    tier = models.ForeignKey(Tier, on_delete=models.CASCADE, related_name="progress")
    state = models.CharField(max_length=10, choices=ProgressState)
    opened_at = models.DateTimeField(null=True, blank=True)
    passed_at = models.DateTimeField(null=True, blank=True)
    held_at = models.DateTimeField(
        null=True, blank=True, help_text="A coach keeps the team here, whatever the rule says."
    )
    evidence = models.JSONField(default=dict, blank=True)
    answer = models.CharField(max_length=12, blank=True)
    answer_kind = models.CharField(max_length=16, blank=True)
    why = models.CharField(max_length=400, blank=True)
    need = models.CharField(max_length=400, blank=True)
    last_run_at = models.DateTimeField(null=True, blank=True)
    updated_at = models.DateTimeField()

    objects = ProgressQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "progress"
        constraints = [
            models.UniqueConstraint(fields=["team", "tier"], name="progress_once_per_team_and_tier"),
            models.CheckConstraint(
                condition=Q(state__in=["not_open", "working", "passed"]), name="progress_state_is_known"
            ),
            models.CheckConstraint(condition=Q(held_at=None) | Q(state="working"), name="held_back_while_working"),
        ]

    def __str__(self) -> str:
        return f"{self.team} in {self.tier}: {self.state}"


class ProgressChange(models.Model):
    """Who moved a team, when, why, and what the evidence then said. Append-only."""

    progress = models.ForeignKey(Progress, on_delete=models.CASCADE, related_name="changes")
    from_state = models.CharField(max_length=10, choices=ProgressState)
    to_state = models.CharField(max_length=10, choices=ProgressState)
    by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=300, blank=True)
    holds = models.BooleanField(default=False, help_text="Keeps the team on this tier, whatever the rule says.")
    overruled = models.BooleanField(default=False, help_text="Decided against what the rule said; needs a reason.")
    evidence = models.JSONField(default=dict, blank=True)

    objects = ProgressChangeQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(overruled=False) | ~Q(reason=""), name="overruling_has_a_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.progress_id}: {self.from_state} to {self.to_state}"


class BarChange(models.Model):
    """Who changed a readiness rule, of one tier or (without a tier) of the whole club. Append-only."""

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="bar_changes")
    tier_version = models.ForeignKey(
        TierVersion, on_delete=models.CASCADE, null=True, blank=True, related_name="bar_changes"
    )
    before = models.JSONField(default=dict, blank=True)
    after = models.JSONField(default=dict, blank=True)
    by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=300)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="bar_change_has_a_reason")]

    def __str__(self) -> str:
        return f"{self.tier_version or self.club}: {self.reason}"
