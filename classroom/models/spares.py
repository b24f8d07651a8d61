"""Spare parts as the club keeps them: how many lie where, and how few are too few."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from classroom.models.clubs import Club
from classroom.robots.queries import SpareQuerySet


class Spare(models.Model):
    """A kind of part. Taken off the list it is retired, never deleted: service notes tell what was used."""

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="spares")
    name = models.CharField(max_length=60)
    on_hand = models.PositiveIntegerField(default=0)
    least = models.PositiveIntegerField(default=0, help_text="With fewer than this on hand, the rest is to be bought.")
    place = models.CharField(max_length=80, blank=True, help_text="Where it lies.")
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = SpareQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "name"], condition=Q(retired_at=None), name="spare_name_once_per_club"
            ),
            models.CheckConstraint(condition=~Q(name=""), name="spare_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def to_buy(self) -> int:
        return max(0, self.least - self.on_hand)
