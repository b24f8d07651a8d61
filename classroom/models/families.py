"""What a family may see of one child: the contact, the link, the approved words."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from classroom.models.people import Coach
from classroom.models.teams import Member


class NoMail(models.TextChoices):
    """Why no e-mail goes to an address any more. The consent stays on record; a new one lets e-mail go again."""

    UNSUBSCRIBED = "unsubscribed", _("The family asked for no more e-mail.")
    REFUSED = "refused", _("The mail server of this address refused it: it may be mistyped, or gone.")
    CAME_BACK = "came_back", _("An e-mail to this address came back.")


class GuardianContact(models.Model):
    """How to reach a child's guardian, if they wish; with the record of their consent."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="guardians")
    email = models.EmailField(blank=True)
    language = models.CharField(max_length=12, default="en")
    consent_notice = models.CharField(max_length=40, blank=True)
    consented_at = models.DateTimeField(null=True, blank=True)
    consent_recorded_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    no_mail_since = models.DateTimeField(null=True, blank=True)
    no_mail_why = models.CharField(max_length=12, choices=NoMail, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["member", "email"], condition=~Q(email=""), name="guardian_once_per_child"),
            models.CheckConstraint(
                condition=Q(no_mail_since=None, no_mail_why="") | (Q(no_mail_since__isnull=False) & ~Q(no_mail_why="")),
                name="no_mail_has_its_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"guardian of {self.member}"

    @property
    def may_have_mail(self) -> bool:
        """Only with an address, a consent that stands, and nothing that stopped it."""
        kept = self.consented_at is not None and self.withdrawn_at is None
        return bool(self.email) and kept and self.no_mail_since is None


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
    language = models.CharField("language chosen on the page", max_length=12, blank=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(expires_at__gt=models.F("created_at")), name="link_expires_after_it_is_made"
            )
        ]

    def __str__(self) -> str:
        return f"link for {self.member}"


class LetterState(models.TextChoices):
    WAITING = "waiting", _("Waiting")
    LEAVING = "leaving", _("Being handed to the mail server")
    SENT = "sent", _("Sent")
    REFUSED = "refused", _("Refused")
    UNSURE = "unsure", _("Nobody knows whether it arrived")
    NOT_SENT = "not_sent", _("Not sent")


class FamilyLetter(models.Model):
    """One e-mail to a guardian: that there is a page for them, and its link. What it says is kept nowhere.

    It is marked as leaving before it is handed over, and nothing leaves twice: what was being handed over when the power
    failed is ``unsure``. ``link`` is made as it leaves, for no other letter. ``stop_digest``: of the token by which the
    family asks for no more e-mail.
    """

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="family_letters")
    contact = models.ForeignKey(GuardianContact, on_delete=models.CASCADE, related_name="letters")
    link = models.OneToOneField(SummaryLink, on_delete=models.SET_NULL, null=True, blank=True, related_name="mailed_in")
    state = models.CharField(max_length=10, choices=LetterState, default=LetterState.WAITING)
    asked_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    asked_at = models.DateTimeField()
    tries = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField(null=True, blank=True)
    left_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    stop_digest = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["-asked_at", "-pk"]
        indexes = [models.Index(fields=["next_try_at"], name="letter_due", condition=Q(state="waiting"))]
        constraints = [
            models.UniqueConstraint(
                fields=["contact"], condition=Q(state__in=["waiting", "leaving"]), name="one_letter_at_a_time"
            ),
            models.UniqueConstraint(
                fields=["stop_digest"], condition=~Q(stop_digest=""), name="letter_is_stopped_by_its_own_token"
            ),
            models.CheckConstraint(
                condition=Q(state__in=["waiting", "leaving", "sent", "refused", "unsure", "not_sent"]),
                name="letter_state_is_known",
            ),
            models.CheckConstraint(
                condition=Q(state="sent", sent_at__isnull=False) | (~Q(state="sent") & Q(sent_at=None)),
                name="letter_is_sent_or_is_not",
            ),
            models.CheckConstraint(
                condition=Q(state="waiting", next_try_at__isnull=False) | (~Q(state="waiting") & Q(next_try_at=None)),
                name="letter_that_waits_has_its_time",
            ),
        ]

    def __str__(self) -> str:
        return f"e-mail to a {self.contact}"


class SummaryWords(models.Model):
    """A coach's words about one child's term: shown only once approved."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="summary_words")
    learnt = models.CharField("one thing learnt", max_length=200)
    working_on = models.CharField("one thing being worked on", max_length=200)
    ask_at_home = models.CharField("one question to ask at home", max_length=200)
    written_at = models.DateTimeField()
    approved_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    approved_at = models.DateTimeField(null=True, blank=True)
    language = models.CharField("language of these words", max_length=12, default="en-gb")

    class Meta:
        verbose_name_plural = "summary words"
        ordering = ["-written_at"]

    def __str__(self) -> str:
        return f"words for {self.member}"
