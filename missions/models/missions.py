"""Missions, their published versions, and their tiers."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.models import Club, Coach, MeasuredTable
from classroom.site.listed import strung
from missions.ladder.queries import MissionQuerySet, TierQuerySet, TierVersionQuerySet


class Mission(models.Model):
    """What is on a table. Its content lives in versions; attempts keep the version they were made on.

    ``title`` is that of the version last published, or of the draft while there is nothing else.
    """

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="missions")
    title = models.CharField(max_length=60)
    order = models.PositiveSmallIntegerField(default=0)
    archived_at = models.DateTimeField(null=True, blank=True)

    objects = MissionQuerySet.as_manager()

    class Meta:
        ordering = ["order", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "title"], condition=Q(archived_at=None), name="mission_title_once_per_club"
            ),
            models.CheckConstraint(condition=~Q(title=""), name="mission_has_a_title"),
        ]

    def __str__(self) -> str:
        return self.title


class MissionVersion(MeasuredTable):
    """One version of a mission. Once published it never changes: editing makes the next.

    ``base`` is a polygon in mm; ``start`` a pose {"x_mm", "y_mm", "heading_deg"} or null (the team chooses);
    ``target`` is as in helmroom.scene/1 plus a name.
    """

    mission = models.ForeignKey(Mission, on_delete=models.CASCADE, related_name="versions")
    title = models.CharField(max_length=60)
    number = models.PositiveIntegerField()
    published_at = models.DateTimeField(null=True, blank=True)
    checked_with = models.CharField(max_length=40, blank=True, help_text="The robot that it was checked with.")
    edited_at = models.DateTimeField()
    edited_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    summary = models.CharField("in one line", max_length=100)
    brief = models.TextField(blank=True, help_text="Markdown.")
    did_you_know = models.TextField(blank=True)
    questions = models.JSONField(default=list, blank=True)
    setup_steps = models.JSONField(default=list, blank=True)
    safety_notes = models.TextField(blank=True)
    base = models.JSONField()
    start = models.JSONField(null=True, blank=True)
    target = models.JSONField()
    margin_mm = models.FloatField(default=3)

    class Meta:
        ordering = ["mission", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["mission", "number"], name="mission_version_number_once"),
            models.UniqueConstraint(fields=["mission"], condition=Q(published_at=None), name="one_draft_per_mission"),
            models.CheckConstraint(
                condition=Q(width_mm__gt=0, depth_mm__gt=0, margin_mm__gte=0), name="mission_table_has_a_size"
            ),
            *MeasuredTable.Meta.constraints,
        ]

    def __str__(self) -> str:
        return f"{self.mission} v{self.number}"


class TierKind(models.TextChoices):
    PLAIN = "plain", gettext_lazy("Plain route")
    OBSTACLE = "obstacle", gettext_lazy("With obstacle")
    TIMED = "timed", gettext_lazy("Timed")


class Tier(models.Model):
    """A rung of a mission's ladder; keeps its identity over the mission's versions.

    ``order`` and ``name`` are those of the version last published; a draft's own are in its TierVersion rows. A tier
    that the newest published version leaves out has ``left_out_at``: it is no longer offered, what was done in it stays.
    """

    mission = models.ForeignKey(Mission, on_delete=models.CASCADE, related_name="tiers")
    order = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=10, choices=TierKind)
    name = models.CharField(max_length=40)
    left_out_at = models.DateTimeField(null=True, blank=True)

    objects = TierQuerySet.as_manager()

    class Meta:
        ordering = ["mission", "order"]
        constraints = [
            models.UniqueConstraint(fields=["mission", "order"], name="tier_order_once_per_mission"),
            models.CheckConstraint(condition=Q(kind__in=["plain", "obstacle", "timed"]), name="tier_kind_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.mission}: {self.name}"


class TierVersion(models.Model):
    """A tier as it stands in one version of its mission.

    ``obstacles`` and ``keep_outs`` are lists of {"name", "outline"}; ``criteria`` a list of {"key", "words"}, with
    "target" where one is asked about one of several targets, counted from 1; ``more_targets`` are as in the document.
    ``rule`` holds what differs from the club's readiness rule. It says how runs are judged, not what was run, so it is
    the one thing that a coach may still change after publishing (services/set_bar.py keeps what it was).
    """

    tier = models.ForeignKey(Tier, on_delete=models.CASCADE, related_name="versions")
    version = models.ForeignKey(MissionVersion, on_delete=models.CASCADE, related_name="tier_versions")
    order = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=40)
    obstacles = models.JSONField(default=list, blank=True)
    keep_outs = models.JSONField(default=list, blank=True)
    time_limit_s = models.FloatField(null=True, blank=True)
    criteria = models.JSONField()
    rule = models.JSONField(default=dict, blank=True)
    more_targets = models.JSONField(default=list, blank=True, help_text="Pushed as well, after the mission's target.")
    any_order = models.BooleanField(default=False, help_text="Its targets may be pushed in any order.")

    objects = TierVersionQuerySet.as_manager()

    class Meta:
        ordering = ["version", "order"]
        constraints = [
            models.UniqueConstraint(fields=["tier", "version"], name="tier_once_per_version"),
            models.UniqueConstraint(fields=["version", "order"], name="tier_order_once_per_version"),
            models.CheckConstraint(
                condition=Q(time_limit_s=None) | Q(time_limit_s__gt=0), name="time_limit_is_positive"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.version}: {self.name}"

    @property
    def targets(self) -> list[dict[str, Any]]:
        """The mission's target and the tier's own, as they are counted: 0 is the mission's."""
        return [self.version.target, *self.more_targets]

    def target_name(self, number: int) -> str:
        """A target in words; of several without a name by its place."""
        name = str(self.targets[number].get("name") or "") if number < len(self.targets) else ""
        return name or (_("target %(number)s") % {"number": number + 1} if self.more_targets else _("target"))

    @property
    def targets_in_words(self) -> str:
        """ "tide gate", "tide gate and crate"."""
        return strung(self.target_names)

    @property
    def target_names(self) -> list[str]:
        """Each target in words, in their order."""
        return [self.target_name(i) for i in range(len(self.targets))]
