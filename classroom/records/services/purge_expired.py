"""What has outlived its date is deleted: each night by the worker, or by ``manage.py purge_expired``.

GDPR art. 5(1)(e) (storage limitation) and 16 CFR 312.10 (retention no longer than necessary), from memory. The dates
are those that ``records/kept.py`` says on the privacy page.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from django.apps import apps
from django.conf import settings
from django.db import models, transaction
from django.db.models import Max, Q
from django.utils import timezone

from classroom.models import Club, Member
from classroom.records.kept import KEPT, Until
from classroom.records.services.erase_child import erase_child
from classroom.records.walk import club_path

AFTERWARDS = dt.timedelta(days=30)
DAY = dt.timedelta(days=1)
SIGNED_IN = dt.timedelta(seconds=settings.SESSION_COOKIE_AGE)
BATCH = 1000

Rows = models.QuerySet[models.Model]


@dataclass(frozen=True)
class DeletionRule:
    """``over`` says which rows ended before a moment."""

    label: str
    over: Callable[[dt.datetime], Q]


#: A rule for every record whose date is not the child's, the coach's or the club's own.
RULES = (
    DeletionRule("classroom.Attendance", lambda t: Q(session__ends_at__lt=t)),
    DeletionRule("missions.TeamJob", lambda t: Q(session__ends_at__lt=t)),
    DeletionRule("missions.QuickNote", lambda t: Q(at__lt=t)),
    DeletionRule("missions.Attempt", lambda t: Q(made_at__lt=t) & (Q(replaces=None) | Q(replaces__made_at__lt=t))),
    DeletionRule("classroom.AuditEntry", lambda t: Q(at__lt=t)),
    DeletionRule("admin.LogEntry", lambda t: Q(action_time__lt=t)),
    DeletionRule("classroom.SummaryLink", lambda t: Q(expires_at__lt=t) | Q(revoked_at__lt=t)),
    DeletionRule("classroom.TabletSession", lambda t: Q(expires_at__lt=t) | Q(ended_at__lt=t)),
    DeletionRule("classroom.SignIn", lambda t: Q(last_seen_at__lt=t - SIGNED_IN)),
    DeletionRule("classroom.Invitation", lambda t: Q(expires_at__lt=t) | Q(accepted_at__lt=t) | Q(withdrawn_at__lt=t)),
    DeletionRule("planning.Job", lambda t: Q(finished_at__lt=t)),
    DeletionRule("classroom.SignInFailure", lambda t: Q(at__lt=t)),
    DeletionRule("sessions.Session", lambda t: Q(expire_date__lt=t)),
)


@dataclass(frozen=True)
class Purged:
    """How many of what, in the club's words."""

    rows: dict[str, int]
    children: int

    @property
    def nothing(self) -> bool:
        return not self.children and not any(self.rows.values())


def purge_expired(now: dt.datetime, *, dry_run: bool = False) -> Purged:
    """Each kind in a transaction of its own, so that nobody waits for long."""
    rows: dict[str, int] = {}
    for rule in RULES:
        count = sum(_purge(found, dry_run) for found in _found(rule, now))
        if count:
            rows[KEPT[rule.label].what] = count
    children = [child for club in Club.objects.all() for child in _long_gone(club, now)]
    if not dry_run:
        for child in children:
            erase_child(child, None, now=now)
    return Purged(rows, len(children))


def _found(rule: DeletionRule, now: dt.datetime) -> Iterator[Rows]:
    model = apps.get_model(rule.label)
    until, way = KEPT[rule.label].until, club_path(model)
    if until != Until.RETENTION:
        after = {Until.AFTERWARDS: AFTERWARDS, Until.DAY: DAY, Until.EXPIRY: dt.timedelta(0)}[until]
        yield model._default_manager.filter(rule.over(now - after))
        return
    if way is None:  # of no club: the longest of all clubs' days
        days = max(Club.objects.values_list("retention_days", flat=True), default=400)
        yield model._default_manager.filter(rule.over(now - dt.timedelta(days=days)))
        return
    for club in Club.objects.all():
        before = now - dt.timedelta(days=club.retention_days)
        yield model._default_manager.filter(rule.over(before), **{way: club.pk})


def _purge(found: Rows, dry_run: bool) -> int:
    keys = list(found.order_by("pk").values_list("pk", flat=True))
    if dry_run:
        return len(keys)
    manager = found.model._default_manager
    for first in range(0, len(keys), BATCH):
        with transaction.atomic():
            batch = manager.filter(pk__in=keys[first : first + BATCH])
            if any(field.name == "replaced_by" for field in found.model._meta.fields):
                # Corrections hold on to what they correct; both go.
                manager.filter(replaced_by__in=keys[first : first + BATCH]).update(replaced_by=None)
            batch.delete()
    return len(keys)


def _long_gone(club: Club, now: dt.datetime) -> list[Member]:
    """Children who are in no team and left the last one longer ago than the club keeps records."""
    before = timezone.localdate(now) - dt.timedelta(days=club.retention_days)
    children = Member.objects.filter(club=club, memberships__isnull=False).exclude(memberships__left_on=None)
    return list(children.annotate(last=Max("memberships__left_on")).filter(last__lt=before).select_related("club"))
