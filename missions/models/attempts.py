"""Attempts: what a team's robot did, as the team saw it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from classroom.models import Calibration, Robot, Session, TabletSession, Team
from missions.models.missions import Tier, TierVersion
from missions.models.trials import PlanTry
from missions.runs.queries import AttemptQuerySet


class Cause(models.TextChoices):
    TURNED_TOO_FAR = "turned_too_far", _("Turned too far")
    TURNED_TOO_LITTLE = "turned_too_little", _("Turned too little")
    TOO_SHORT = "too_short", _("Too short")
    TOO_LONG = "too_long", _("Too long")
    WHEEL_SLIP = "wheel_slip", _("Wheel slip")
    TOUCHED = "touched", _("Touched an obstacle")
    LIFTED = "lifted", _("We lifted it")
    OTHER = "other", _("Something else")


class Guess(models.TextChoices):
    """What a team thinks it was, before it reads what the runs say."""

    TURN = "turn", _("A turn")
    DISTANCE = "distance", _("A distance")
    SET_DOWN = "set_down", _("How we set it down")
    SLIP = "slip", _("A slip, once")
    UNSURE = "unsure", _("We don't know")


class Attempt(models.Model):
    """One run. Sent twice it counts once (``uuid``); corrected by a later row, withdrawn but never deleted.

    ``tier`` repeats ``tier_version.tier`` so that the board's query needs no join. ``plan_number`` is the number of the
    course that was run, as planning numbers them for this team and tier. ``outcomes`` maps a criterion's key to yes or
    no; ``success`` is all of them together, within the time limit where there is one.

    ``said_before`` is what the team expected: ``works``, ``lateral_mm``, ``along_mm``, ``duration_s``, any of them. It and
    ``guess`` are for the team alone: no page counts or ranks them. A run that tests a change of a plan has a ``trial`` and
    no ``plan_number``, since its robot was told something else.
    """

    uuid = models.UUIDField()
    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="attempts")
    tier = models.ForeignKey(Tier, on_delete=models.PROTECT, related_name="attempts")
    tier_version = models.ForeignKey(TierVersion, on_delete=models.PROTECT, related_name="attempts")
    session = models.ForeignKey(Session, on_delete=models.SET_NULL, null=True, blank=True, related_name="attempts")
    robot = models.ForeignKey(Robot, on_delete=models.SET_NULL, null=True, blank=True, related_name="attempts")
    calibration = models.ForeignKey(
        Calibration, on_delete=models.SET_NULL, null=True, blank=True, related_name="attempts"
    )
    tablet = models.ForeignKey(TabletSession, on_delete=models.SET_NULL, null=True, blank=True, related_name="attempts")
    plan_number = models.PositiveIntegerField(null=True, blank=True)
    trial = models.ForeignKey(PlanTry, on_delete=models.SET_NULL, null=True, blank=True, related_name="attempts")
    made_at = models.DateTimeField(help_text="By the tablet's clock, put right by clock_ahead_s.")
    clock_ahead_s = models.FloatField(default=0, help_text="How far the tablet's clock was ahead of ours, as it knew.")
    received_at = models.DateTimeField(help_text="By ours.")
    duration_s = models.FloatField(null=True, blank=True)
    outcomes = models.JSONField()
    success = models.BooleanField()
    lateral_mm = models.FloatField(null=True, blank=True, help_text="Miss to the left of the target's line.")
    along_mm = models.FloatField(null=True, blank=True, help_text="Miss along the push, positive too far.")
    heading_error_deg = models.FloatField(null=True, blank=True)
    at_target = models.PositiveSmallIntegerField(
        default=0, help_text="Of several targets, where its miss was measured: 0 the mission's own, then the tier's."
    )
    cause = models.CharField(max_length=20, choices=Cause, blank=True)
    change_to_try = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=300, blank=True)
    said_before = models.JSONField(null=True, blank=True)
    guess = models.CharField(max_length=10, choices=Guess, blank=True)
    body_digest = models.CharField(
        max_length=64, blank=True, help_text="Of what was sent: same key, other body is refused."
    )
    replaced_by = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaces")
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = AttemptQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        indexes = [
            models.Index(
                fields=["team", "tier", "-made_at"],
                name="attempt_standing",
                condition=Q(replaced_by=None, withdrawn_at=None),
            ),
        ]
        constraints = [
            models.UniqueConstraint(fields=["uuid"], name="attempt_counts_once"),
            models.CheckConstraint(
                condition=Q(duration_s=None) | Q(duration_s__gt=0, duration_s__lte=3600),
                name="attempt_duration_is_sane",
            ),
            models.CheckConstraint(
                condition=(Q(lateral_mm=None) | Q(lateral_mm__range=(-5000, 5000)))
                & (Q(along_mm=None) | Q(along_mm__range=(-5000, 5000)))
                & (Q(heading_error_deg=None) | Q(heading_error_deg__range=(-180, 180))),
                name="attempt_miss_is_sane",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.team} {'done' if self.success else 'missed'} {self.made_at:%d %b %H:%M}"

    @property
    def line_key(self) -> str:
        """All that its line in a list hangs on; the rest of a kept run never changes."""
        told = (self.pk, self.withdrawn_at, self.replaced_by_id, self.cause, self.change_to_try, self.note)
        return repr(told)

    @property
    def miss_at_first(self) -> tuple[float | None, float | None]:
        """Lateral and along, where they are those at the mission's own target: what pages tell of sides speaks of that."""
        return (None, None) if self.at_target else (self.lateral_mm, self.along_mm)
