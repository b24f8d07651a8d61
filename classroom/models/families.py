"""What a family may see of one child: the contact, the link, the approved words."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from classroom.models.people import Coach
from classroom.models.teams import Member


class GuardianContact(models.Model):
    """How to reach a child's guardian, if they wish; with the record of their consent."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="guardians")
    email = models.EmailField(blank=True)
    language = models.CharField(max_length=12, default="en")
    consent_notice = models.CharField(max_length=40, blank=True)
    consented_at = models.DateTimeField(null=True, blank=True)
    consent_recorded_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["member", "email"], condition=~Q(email=""), name="guardian_once_per_child")
        ]

    def __str__(self) -> str:
        return f"guardian of {self.member}"


class SummaryLink(models.Model):
    """The address of one child's summary. 256 random bits; only their digest is kept.

    ``letter`` tells a child's links apart (A, B, C ...): it is printed on the slip that carries the address.
    """

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="summary_links")
    contact = models.ForeignKey(GuardianContact, on_delete=models.SET_NULL, null=True, blank=True, related_name="links")
    letter = models.CharField(max_length=3, default="A")
    token_digest = models.CharField(max_length=64, unique=True)
    created_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, related_name="+")
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_opened_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(expires_at__gt=models.F("created_at")), name="link_expires_after_it_is_made"
            )
        ]

    def __str__(self) -> str:
        return f"link for {self.member}"


class SummaryWords(models.Model):
    """A coach's words about one child's term: shown only once approved."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="summary_words")
    learnt = models.CharField("one thing learnt", max_length=200)
    working_on = models.CharField("one thing being worked on", max_length=200)
    ask_at_home = models.CharField("one question to ask at home", max_length=200)
    written_at = models.DateTimeField()
    approved_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    approved_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "summary words"
        ordering = ["-written_at"]

    def __str__(self) -> str:
        return f"words for {self.member}"
