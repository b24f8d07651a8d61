"""Teams, the children in them, and the tablets they share."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from classroom.models.clubs import Club
from classroom.teams.queries import TeamQuerySet


class Team(models.Model):
    """A team of children. It signs in with its join code and PIN; the PIN is kept only as a hash."""

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="teams")
    name = models.CharField(max_length=40)
    join_code = models.CharField(max_length=8, unique=True)
    join_code_expires_at = models.DateTimeField(null=True, blank=True)
    pin_hash = models.CharField(max_length=128)
    order = models.PositiveSmallIntegerField(default=0)
    archived_at = models.DateTimeField(null=True, blank=True)

    objects = TeamQuerySet.as_manager()

    class Meta:
        ordering = ["order", "name"]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "name"], condition=Q(archived_at=None), name="team_name_once_per_club"
            ),
            models.CheckConstraint(condition=~Q(name=""), name="team_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name


class Member(models.Model):
    """A child, by nickname or first name and nothing else."""

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="members")
    nickname = models.CharField("first name or nickname", max_length=24)
    family_language = models.CharField("language of the family's page", max_length=12, blank=True)

    class Meta:
        ordering = ["nickname", "pk"]
        constraints = [models.CheckConstraint(condition=~Q(nickname=""), name="member_has_a_nickname")]

    def __str__(self) -> str:
        return self.nickname


class Membership(models.Model):
    """A member's time in a team."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="memberships")
    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="memberships")
    joined_on = models.DateField()
    left_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["joined_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["member"], condition=Q(left_on=None), name="member_in_one_team_at_a_time"),
            models.CheckConstraint(
                condition=Q(left_on=None) | Q(left_on__gte=models.F("joined_on")),
                name="membership_ends_after_it_starts",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.member} in {self.team}"


class TabletSession(models.Model):
    """One sign-in of a team on a tablet; a coach can end it from anywhere."""

    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="tablet_sessions")
    started_at = models.DateTimeField()
    last_seen_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    language = models.CharField(max_length=12, blank=True, help_text="As chosen at this tablet; empty: the club's.")

    class Meta:
        ordering = ["-started_at"]

    def __str__(self) -> str:
        return f"{self.team} since {self.started_at:%H:%M}"


class SignInFailure(models.Model):
    """A refused sign-in, kept by its source so that guessing is slowed without locking out a team."""

    source = models.CharField(max_length=64)
    kind = models.CharField(max_length=10)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["source", "kind", "at"], name="failure_by_source")]

    def __str__(self) -> str:
        return f"{self.kind} from {self.source}"
