"""The club: the tenant everything hangs off."""

from __future__ import annotations

import uuid

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F
from django.utils.translation import gettext_lazy as _


class LengthUnit(models.TextChoices):
    CENTIMETRE = "cm", _("centimetres")
    INCH = "in", _("inches")
    MILLIMETRE = "mm", _("millimetres")


class Club(models.Model):
    """A club. No page, job or query may cross from one club to another."""

    uuid = models.UUIDField(
        default=uuid.uuid4, unique=True, editable=False, help_text="The same wherever the club is taken."
    )
    name = models.CharField(max_length=80)
    time_zone = models.CharField(max_length=64, default="Europe/London")
    unit = models.CharField(max_length=2, choices=LengthUnit, default=LengthUnit.CENTIMETRE)
    locale = models.CharField(max_length=12, default="en-gb")
    readiness_policy = models.JSONField(default=dict, blank=True, help_text="What differs from the default rule.")
    tells_jobs = models.BooleanField(
        "families may read which jobs their child had in its team",
        default=False,
        help_text="Off unless the club says so.",
    )
    measures_by_camera = models.BooleanField(
        "tables and robots may be measured by a picture",
        default=True,
        help_text="No picture is kept in any case.",
    )
    retention_days = models.PositiveIntegerField(default=400, validators=[MinValueValidator(30)])
    is_demo = models.BooleanField(default=False, help_text="Invented data, and says so on every page.")
    live_version = models.PositiveBigIntegerField(default=0, help_text="Goes up with every change a live page shows.")
    news_version = models.PositiveBigIntegerField(
        default=0, help_text="Goes up with every change that a tablet tells its team."
    )
    created_at = models.DateTimeField()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(name=""), name="club_has_a_name"),
            models.CheckConstraint(condition=models.Q(unit__in=["cm", "in", "mm"]), name="club_unit_is_known"),
        ]

    def __str__(self) -> str:
        return self.name

    def touch(self, *, is_news: bool = True) -> None:
        """Tell live pages that something has changed. What is no news to tablets, as another team's run, changes nothing on them."""
        told = {"news_version": F("news_version") + 1} if is_news else {}
        type(self).objects.filter(pk=self.pk).update(live_version=F("live_version") + 1, **told)
