"""Courses: numbered lists of actions for a team's tier, drafted by the team or found by the planner."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.models import Calibration, Coach, Robot, Team
from missions.models import TierVersion
from motion.course.sentences import kept
from planning.courses.queries import CourseQuerySet


class Origin(models.TextChoices):
    TEAM = "team", gettext_lazy("Drafted by the team")
    PLANNER = "planner", gettext_lazy("Found by the planner")


class TeamAnswer(models.TextChoices):
    NONE = "", gettext_lazy("No answer yet")
    TRY = "try", gettext_lazy("We'll try it")
    KEEP = "keep", gettext_lazy("We keep ours")


#: What the planner looked for.
AIM_WORDS = {
    "steadiest": gettext_lazy("steadiest"),
    "fastest": gettext_lazy("fastest"),
    "simplest": gettext_lazy("simplest"),
}


class Course(models.Model):
    """One revision of a course; never edited. ``number`` counts up per team and tier over both origins ("plan 7").

    ``start`` is the pose it begins at and ``actions`` the list of helmroom.course/1 as the robot truly drives it;
    ``numbers`` holds the robot's scales ({"distance_scale", "turn_scale"}) of the day, so that what was typed can be
    told; ``check_result`` is what motion said of it (planning.courses.rules.course_json), empty until it could be asked.
    ``note`` is English; ``note_said`` is that sentence with its names and numbers beside it (motion.course.sentences).
    """

    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="courses")
    tier_version = models.ForeignKey(TierVersion, on_delete=models.PROTECT, related_name="courses")
    robot = models.ForeignKey(Robot, on_delete=models.PROTECT, related_name="courses")
    calibration = models.ForeignKey(
        Calibration, on_delete=models.SET_NULL, null=True, blank=True, related_name="courses"
    )
    number = models.PositiveIntegerField()
    origin = models.CharField(max_length=8, choices=Origin)
    aim = models.CharField(max_length=10, blank=True)
    start = models.JSONField()
    actions = models.JSONField()
    numbers = models.JSONField(default=dict, blank=True)
    check_result = models.JSONField()
    note = models.CharField(max_length=300, blank=True)
    note_said = models.JSONField(null=True, blank=True)
    shown_to_team_at = models.DateTimeField(null=True, blank=True)
    shown_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    answer = models.CharField(
        max_length=4, choices=TeamAnswer, default="", blank=True, help_text="What the team said to being shown it."
    )
    answered_at = models.DateTimeField(null=True, blank=True)
    job = models.ForeignKey("planning.Job", on_delete=models.SET_NULL, null=True, blank=True, related_name="courses")
    created_at = models.DateTimeField()

    objects = CourseQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["team", "tier_version", "number"], name="course_number_once"),
            models.CheckConstraint(condition=Q(origin__in=["team", "planner"]), name="course_origin_is_known"),
            models.CheckConstraint(
                condition=Q(answer="", answered_at=None) | Q(answer__in=["try", "keep"], answered_at__isnull=False),
                name="course_answer_is_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.team} plan {self.number}"

    @property
    def is_unchecked(self) -> bool:
        return not self.check_result

    @property
    def note_words(self) -> str:
        """What the planner adds, as whoever reads speaks."""
        return str(kept(self.note_said)) if self.note_said else self.note

    @property
    def aim_words(self) -> str:
        """What it was looked for by; the planner's alone have an aim to tell."""
        return str(AIM_WORDS.get(self.aim, self.aim))

    @property
    def made_words(self) -> str:
        """Whose it is, within a line."""
        if self.origin == Origin.TEAM:
            return _("drafted by the team")
        return _("found by the planner, %(aim)s") % {"aim": self.aim_words}
