"""What was done with the club's records, by whom and when; never what they said."""

from __future__ import annotations

from django.db import models

from classroom.models.clubs import Club


class AuditEntry(models.Model):
    """Append-only: a row is never changed or removed before its retention date."""

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="audit_entries")
    at = models.DateTimeField()
    actor = models.CharField(max_length=60, help_text="Such as coach:12, team:3, link:8, system.")
    verb = models.CharField(max_length=40)
    subject = models.CharField(max_length=80, blank=True)

    class Meta:
        verbose_name_plural = "audit entries"
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["club", "-at"], name="audit_by_club")]

    def __str__(self) -> str:
        return f"{self.actor} {self.verb} {self.subject}".strip()

    def save(self, *args: object, **kwargs: object) -> None:
        if self.pk is not None:
            raise TypeError("An audit entry is never changed.")
        super().save(*args, **kwargs)
