"""Jobs: long work whose truth is its row; the queue carries only its id."""

from __future__ import annotations

import json

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext, gettext_lazy

from classroom.models import Club, Coach, Team
from missions.models import TierVersion
from motion.course.sentences import kept
from planning.jobs.queries import JobQuerySet


class JobState(models.TextChoices):
    WAITING = "waiting", gettext_lazy("Waiting")
    RUNNING = "running", gettext_lazy("Running")
    DONE = "done", gettext_lazy("Done")
    FAILED = "failed", gettext_lazy("Did not work")
    CANCELLED = "cancelled", gettext_lazy("Stopped")


class Job(models.Model):
    """One piece of background work.

    ``input`` is everything the answer depends on and ``input_hash`` its digest: a job with the same hash that is done,
    running or waiting answers for the next one who asks. ``token`` is the fencing token: it goes up with each claim and
    only its holder may write.
    """

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="jobs")
    kind = models.CharField(max_length=30)
    team = models.ForeignKey(Team, on_delete=models.CASCADE, null=True, blank=True, related_name="jobs")
    tier_version = models.ForeignKey(TierVersion, on_delete=models.CASCADE, null=True, blank=True, related_name="jobs")
    input = models.JSONField()
    input_hash = models.CharField(max_length=64)
    state = models.CharField(max_length=10, choices=JobState, default=JobState.WAITING)
    progress = models.FloatField(default=0)
    progress_words = models.CharField(max_length=120, blank=True)
    result = models.JSONField(null=True, blank=True)
    error_code = models.CharField(max_length=40, blank=True)
    error_words = models.CharField(max_length=500, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    max_tries = models.PositiveSmallIntegerField(default=3)
    token = models.PositiveIntegerField(default=0)
    lease_until = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    deadline_at = models.DateTimeField(null=True, blank=True)
    cancel_asked_at = models.DateTimeField(null=True, blank=True)
    asked_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    created_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-pk"]
        indexes = [
            models.Index(fields=["state", "lease_until"], name="job_sweep"),
            models.Index(fields=["club", "kind", "input_hash"], name="job_by_input"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "kind", "input_hash"],
                condition=Q(state__in=["waiting", "running", "done"]),
                name="same_input_runs_once",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["waiting", "running", "done", "failed", "cancelled"]), name="job_state_is_known"
            ),
            models.CheckConstraint(condition=Q(progress__gte=0, progress__lte=1), name="job_progress_is_a_fraction"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.pk}: {self.state}"

    @property
    def why_not(self) -> str:
        """Why it failed, as whoever reads speaks; its row says it in English."""
        said = (self.result or {}).get("said") if self.state == JobState.FAILED else None
        return str(kept(said)) if said else gettext(self.error_words) if self.error_words else ""

    @property
    def how_far(self) -> str:
        """What is being done, as whoever reads speaks."""
        if self.progress_words.startswith("["):
            return str(kept(json.loads(self.progress_words)))
        return gettext(self.progress_words) if self.progress_words else ""

    @property
    def is_over(self) -> bool:
        return self.state in (JobState.DONE, JobState.FAILED, JobState.CANCELLED)
