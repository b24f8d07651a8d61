"""Those who sign in with a password: coaches and their roles."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.utils.translation import gettext_lazy as _

from classroom.models.clubs import Club


class User(AbstractUser):
    """A person who signs in. Children and guardians never have one."""

    email = models.EmailField("e-mail", unique=True)
    language = models.CharField(max_length=12, blank=True, help_text="Of the pages; empty: the club's.")

    def __str__(self) -> str:
        return self.get_short_name() or self.email


class Role(models.TextChoices):
    LEAD = "lead", _("Lead coach")
    ASSISTANT = "assistant", _("Assistant")
    OBSERVER = "observer", _("Observer (looks, changes nothing)")


class Coach(models.Model):
    """A user's role in one club."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="coach_roles")
    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="coaches")
    role = models.CharField(max_length=10, choices=Role)
    joined_at = models.DateTimeField()
    left_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "coaches"
        ordering = ["club", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["user", "club"], name="one_role_per_user_and_club"),
            models.CheckConstraint(
                condition=models.Q(role__in=["lead", "assistant", "observer"]), name="coach_role_is_known"
            ),
        ]

    def __str__(self) -> str:
        return str(self.user)

    @property
    def may_change(self) -> bool:
        return self.role in (Role.LEAD, Role.ASSISTANT)


class Invitation(models.Model):
    """A link by which a new coach joins. Only its digest is kept."""

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="invitations")
    email = models.EmailField()
    role = models.CharField(max_length=10, choices=Role)
    token_digest = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, related_name="+")
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]

    def __str__(self) -> str:
        return f"{self.email} as {self.role}"


class SignIn(models.Model):
    """One sign-in of a user in a browser, beside the browser's session; ending it takes both away."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="sign_ins")
    session_key = models.CharField(max_length=40, unique=True)
    browser = models.CharField(
        max_length=60, blank=True, help_text="In words; what the browser itself sent is not kept."
    )
    source = models.CharField(max_length=64, blank=True)
    at = models.DateTimeField()
    last_seen_at = models.DateTimeField()

    class Meta:
        ordering = ["-last_seen_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.user} since {self.at:%H:%M}"
