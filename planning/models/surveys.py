"""What a team's tape, or a picture, says about where things really stand on its table."""

from __future__ import annotations

from django.db import models

from classroom.models import Team
from missions.models import TierVersion


class TableSurvey(models.Model):
    """Never edited: the newest that is not ended is in force.

    ``readings`` is a list of {"mark", "to", "distance_mm"}, and where a picture was measured too one {"marks", "places_mm",
    "covariance"}: numbers, never the picture. A mark names a thing and its corner ("0:2": thing 0, corner
    2, thing 0 being the target, then the obstacles in their order). ``places`` maps a thing's number to how it was moved:
    {"turn_deg", "dx_mm", "dy_mm", "residual_mm"}.
    """

    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="surveys")
    tier_version = models.ForeignKey(TierVersion, on_delete=models.CASCADE, related_name="surveys")
    readings = models.JSONField()
    places = models.JSONField()
    made_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        indexes = [models.Index(fields=["team", "tier_version", "-made_at"], name="survey_latest")]

    def __str__(self) -> str:
        return f"{self.team}'s tape on {self.tier_version}"

    @property
    def by_picture(self) -> bool:
        """Whether a picture said something of it, alone or with a tape."""
        return any("places_mm" in reading for reading in self.readings)
