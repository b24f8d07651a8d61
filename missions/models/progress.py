"""Where each team stands in each tier, and every change of it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from classroom.models import Club, Coach, Robot, Team
from missions.models.missions import Mission, Tier, TierVersion
from missions.readiness.queries import ChangeMarkQuerySet, ProgressChangeQuerySet, ProgressQuerySet


class ProgressState(models.TextChoices):
    NOT_OPEN = "not_open", _("Not open yet")
    WORKING = "working", _("Working")
    PASSED = "passed", _("Passed")


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
    marked_at = models.DateTimeField(
        null=True, blank=True, help_text="The newest mark “we changed something” that concerns this tier."
    )
    evidence = models.JSONField(default=dict, blank=True)
    answer = models.CharField(max_length=12, blank=True)
    answer_kind = models.CharField(max_length=16, blank=True)
    why = models.CharField(max_length=400, blank=True)
    need = models.CharField(max_length=400, blank=True)
    last_run_at = models.DateTimeField(null=True, blank=True)
    taken_up_at = models.DateTimeField(null=True, blank=True, help_text="When the team last went to it on its tablet.")
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


class ChangedPart(models.TextChoices):
    BUILD = "build", _("The build")
    TYRES = "tyres", _("Tyres or wheels")
    PROGRAM = "program", _("The program")
    OTHER = "other", _("Something else")


class ChangeMark(models.Model):
    """A team, or a coach for it, says that something was changed: earlier runs then count for less.

    The program of one mission concerns that mission's tiers; all else concerns the team's robot, and so all its tiers:
    ``robot`` is the one that it had, which is another robot since then to every page (``robot_changed_before``: when it
    was last changed before). Without a coach it was the team itself. Taken back, it stays on record and counts no more.
    """

    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="change_marks")
    robot = models.ForeignKey(Robot, on_delete=models.SET_NULL, null=True, blank=True, related_name="change_marks")
    robot_changed_before = models.DateTimeField(null=True, blank=True)
    mission = models.ForeignKey(Mission, on_delete=models.CASCADE, null=True, blank=True, related_name="change_marks")
    part = models.CharField(max_length=10, choices=ChangedPart)
    words = models.CharField(max_length=60, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    taken_back_at = models.DateTimeField(null=True, blank=True)

    objects = ChangeMarkQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["team", "-at"], name="change_marks_of_a_team")]
        constraints = [
            models.CheckConstraint(
                condition=Q(part="program", mission__isnull=False)
                | (Q(part__in=["build", "tyres", "other"]) & Q(mission=None)),
                name="change_of_a_program_is_of_a_mission",
            )
        ]

    def __str__(self) -> str:
        return f"{self.team}: {self.get_part_display()}"


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
