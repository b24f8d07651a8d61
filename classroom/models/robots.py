"""Robots, who has which, their service and their calibrations."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from classroom.models.clubs import Club
from classroom.models.people import Coach
from classroom.models.spares import Spare
from classroom.models.teams import Team
from classroom.robots.queries import CalibrationQuerySet, RobotQuerySet


class RobotState(models.TextChoices):
    IN_SERVICE = "in_service", _("In service")
    RESTING = "resting", _("Resting")
    IN_REPAIR = "in_repair", _("In repair")


class YawSense(models.TextChoices):
    COUNTER_CLOCKWISE = "ccw", _("grows when it turns left")
    CLOCKWISE = "cw", _("grows when it turns right")


class Robot(models.Model):
    """A two-wheeled robot as built. Footprints are polygons in mm about the axle's midpoint, nose along +x."""

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="robots")
    name = models.CharField(max_length=40)
    travel_footprint = models.JSONField(help_text="List of polygons [[x, y], ...] in mm.")
    working_footprint = models.JSONField(null=True, blank=True, help_text="With the tool lowered, if that differs.")
    tool_seconds = models.FloatField(default=0)
    wheel_diameter_mm = models.FloatField()
    track_width_mm = models.FloatField()
    speed_mm_s = models.FloatField(default=250)
    acceleration_mm_s2 = models.FloatField(default=500)
    push_speed_mm_s = models.FloatField(default=120)
    turn_rate_deg_s = models.FloatField(default=150)
    turn_acceleration_deg_s2 = models.FloatField(default=500)
    settle_s = models.FloatField(default=0.25)
    min_leg_mm = models.FloatField(default=20)
    min_back_off_mm = models.FloatField(default=40)
    distance_step_mm = models.FloatField(default=10)
    turn_step_deg = models.FloatField(default=1)
    yaw_sense = models.CharField(max_length=3, choices=YawSense, default=YawSense.COUNTER_CLOCKWISE)
    yaw_reference = models.CharField(
        max_length=8, choices=[("absolute", _("to a heading")), ("relative", _("by an angle"))], default="absolute"
    )
    state = models.CharField(max_length=10, choices=RobotState, default=RobotState.IN_SERVICE)
    order = models.PositiveSmallIntegerField(default=0)
    top_mark = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Which of the club's printed marks is on its top, from 1."
    )
    top_mark_height_mm = models.FloatField(default=0, help_text="Above the table.")
    top_mark_ahead_mm = models.FloatField(default=0, help_text="The mark's middle, ahead of the axle's.")
    top_mark_left_mm = models.FloatField(default=0, help_text="The mark's middle, left of the axle's.")
    changed_at = models.DateTimeField(help_text="When it was last built differently; older evidence counts as stale.")

    objects = RobotQuerySet.as_manager()

    class Meta:
        ordering = ["order", "name"]
        constraints = [
            models.UniqueConstraint(fields=["club", "name"], name="robot_name_once_per_club"),
            models.CheckConstraint(
                condition=Q(
                    wheel_diameter_mm__gt=0,
                    track_width_mm__gt=0,
                    speed_mm_s__gt=0,
                    acceleration_mm_s2__gt=0,
                    push_speed_mm_s__gt=0,
                    turn_rate_deg_s__gt=0,
                    turn_acceleration_deg_s2__gt=0,
                    settle_s__gte=0,
                    min_leg_mm__gte=0,
                    min_back_off_mm__gte=0,
                    distance_step_mm__gt=0,
                    turn_step_deg__gt=0,
                    tool_seconds__gte=0,
                ),
                name="robot_measures_are_positive",
            ),
            models.UniqueConstraint(fields=["club", "top_mark"], name="top_mark_once_per_club"),
            models.CheckConstraint(
                condition=Q(top_mark=None) | Q(top_mark__gte=1, top_mark__lte=26, top_mark_height_mm__gt=0),
                name="top_mark_is_printed_and_has_a_height",
            ),
            models.CheckConstraint(condition=Q(yaw_sense__in=["ccw", "cw"]), name="robot_yaw_sense_is_known"),
            models.CheckConstraint(
                condition=Q(state__in=["in_service", "resting", "in_repair"]), name="robot_state_is_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class RobotAssignment(models.Model):
    """Which team has which robot, from a date to a date."""

    robot = models.ForeignKey(Robot, on_delete=models.CASCADE, related_name="assignments")
    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="assignments")
    from_on = models.DateField()
    to_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-from_on", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["robot"], condition=Q(to_on=None), name="robot_with_one_team_at_a_time"),
            models.UniqueConstraint(fields=["team"], condition=Q(to_on=None), name="team_with_one_robot_at_a_time"),
            models.CheckConstraint(
                condition=Q(to_on=None) | Q(to_on__gte=models.F("from_on")), name="assignment_ends_after_it_starts"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.robot} with {self.team}"


class RobotLoan(models.Model):
    """A robot that a team has for one session only, its own being in repair, say.

    Teams that share a robot are never at a table in the same slot.
    """

    session = models.ForeignKey("classroom.Session", on_delete=models.CASCADE, related_name="loans")
    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="loans")
    robot = models.ForeignKey(Robot, on_delete=models.CASCADE, related_name="loans")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["session", "team"], name="one_loan_a_team_and_session")]

    def __str__(self) -> str:
        return f"{self.robot} for {self.team} on {self.session}"


class ServiceNote(models.Model):
    robot = models.ForeignKey(Robot, on_delete=models.CASCADE, related_name="service_notes")
    kind = models.CharField(
        max_length=10, choices=[("battery", _("Battery")), ("repair", _("Repair")), ("part", _("Spare part"))]
    )
    text = models.CharField(max_length=300)
    on = models.DateField()
    due_on = models.DateField(null=True, blank=True)
    done_on = models.DateField(null=True, blank=True)
    spare = models.ForeignKey(
        Spare,
        on_delete=models.RESTRICT,
        null=True,
        blank=True,
        related_name="service_notes",
        help_text="What it takes.",
    )
    spare_count = models.PositiveSmallIntegerField(default=0, help_text="Taken off the list once the note is done.")
    by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(spare=None, spare_count=0) | Q(spare__isnull=False, spare_count__gte=1),
                name="service_note_counts_its_spares",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind}: {self.text}"


class Calibration(models.Model):
    """Measured runs and what was fitted to them. Never edited: a new one supersedes it."""

    robot = models.ForeignKey(Robot, on_delete=models.CASCADE, related_name="calibrations")
    kind = models.CharField(max_length=20, help_text="A key of classroom.robots.kinds, which may grow.")
    surface = models.CharField(max_length=40)
    runs = models.JSONField(help_text="The runs as measured, in mm and degrees.")
    fit = models.JSONField(help_text="What motion.calibration made of them.")
    measured_at = models.DateTimeField()
    confirms = models.BooleanField(
        default=False, help_text="Found what the one before of its kind had found, within the spread of the runs."
    )
    measured_by_team = models.ForeignKey(Team, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    measured_by_coach = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    superseded_by = models.OneToOneField(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="supersedes"
    )

    objects = CalibrationQuerySet.as_manager()

    class Meta:
        ordering = ["-measured_at", "-pk"]
        indexes = [models.Index(fields=["robot", "kind", "-measured_at"], name="calibration_latest")]
        constraints = [models.CheckConstraint(condition=~Q(kind=""), name="calibration_has_a_kind")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.robot}"

    def get_kind_display(self) -> str:
        """The kind's label, as of a field with choices."""
        from classroom.robots.kinds import KINDS  # late: fits load scipy, which rows do without

        return KINDS[self.kind].label if self.kind in KINDS else self.kind
