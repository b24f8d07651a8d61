"""What a team tries: one change of a plan's numbers, and the runs that test it."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext as _

from classroom.models import Team
from missions.models.missions import Tier


class PlanTry(models.Model):
    """ "Plan 1, try A: step 2, 3° less". Its runs are none of the plan's own: the robot was told something else.

    ``uuid`` is made by the tablet, so that runs can carry it before anybody else knows of it. ``numbers`` are those that
    the tablet proposed, as rows of a card; empty for a team's own change.
    """

    uuid = models.UUIDField(unique=True)
    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="trials")
    tier = models.ForeignKey(Tier, on_delete=models.CASCADE, related_name="trials")
    plan_number = models.PositiveIntegerField()
    letter = models.CharField(max_length=3)
    words = models.CharField(max_length=80)
    numbers = models.JSONField(default=list, blank=True)
    made_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["team", "tier", "plan_number", "letter"], name="trial_letter_of_a_plan")
        ]

    def __str__(self) -> str:
        return _("plan %(plan)s, try %(letter)s") % {"plan": self.plan_number, "letter": self.letter}
