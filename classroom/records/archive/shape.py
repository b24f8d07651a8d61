"""What a club's archive holds: which kinds of rows, which of their fields, in which order, and what stays behind and why.

Every model is either archived or on ``LEFT_BEHIND`` (a test walks them), so that nothing is forgotten without a word.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from graphlib import TopologicalSorter
from typing import Any

from django.apps import apps
from django.db import models
from django.db.migrations.loader import MigrationLoader

from classroom.models import AuditEntry, Club, User
from classroom.records.walk import club_path, own_models
from classroom.site.lazily import lazily as _

FORMAT = "helmroom.club/1"

_NOT_THE_CLUBS = "It belongs to this installation, not to the club."

#: Nothing leaves that opens a door: whoever has the archive must not come in where it was made, nor where it is taken to.
LEFT_BEHIND: dict[str, str] = {
    "classroom.SummaryLink": "A secret: it opens a child's page, at this installation's address. Families are given new links.",
    "classroom.FamilyLetter": "What this installation has e-mailed; its links stay behind too. Who wants no more e-mail comes along.",
    "classroom.Invitation": "A secret: it lets a coach in. Open invitations are made anew.",
    "classroom.TabletSession": "Sign-ins of tablets at this installation.",
    "missions.CalendarFeed": "A secret: it opens the calendar, at this installation's address. It is made anew.",
    "planning.Job": "What was computed in the background, for the numbers of this installation's rows; it is computed again when asked for.",
    "account.EmailAddress": "Made of a coach's e-mail when the coach signs in.",
    "account.EmailConfirmation": "Not used.",
    "mfa.Authenticator": "A secret: a coach's second step. It is set up anew.",
    "classroom.SignIn": "Sign-ins of coaches at this installation.",
    "classroom.SignInFailure": _NOT_THE_CLUBS,
    "sessions.Session": "Sign-ins of browsers at this installation.",
    "admin.LogEntry": "The support's own log of this installation; the club's log holds what it did to the club.",
    "contenttypes.ContentType": _NOT_THE_CLUBS,
    "auth.Permission": _NOT_THE_CLUBS,
    "auth.Group": _NOT_THE_CLUBS,
}

#: Of rows that are archived.
FIELDS_LEFT_BEHIND: dict[str, dict[str, str]] = {
    "classroom.Team": {
        "join_code": "A secret: a team comes in with it. A new one is drawn.",
        "join_code_expires_at": "As the code.",
        "pin_hash": "A secret, and six digits are guessed from a hash. Teams are given new PINs.",
    },
    "classroom.User": {
        "username": "Made of the e-mail.",
        "password": "A secret. Coaches without an account set a new one.",
        "last_login": _NOT_THE_CLUBS,
        "date_joined": _NOT_THE_CLUBS,
        "is_staff": "A right at this installation.",
        "is_superuser": "A right at this installation.",
    },
    "missions.SessionRun": {
        "better_wanted": "A task that waits for the background, told in this installation's numbers."
    },
    "missions.Attempt": {"tablet": "Which sign-in of a tablet sent it; those stay behind."},
    "planning.Course": {"job": "Which work in the background found it; that stays behind."},
}

#: Texts in which rows are named by kind and number, such as coach:12.
CODED = {"classroom.AuditEntry": ("actor", "subject")}


@dataclass(frozen=True)
class StaysBehind:
    """A secret in a lead coach's words: what it is, what to do about it elsewhere, and the models that hold it."""

    what: str
    then: str
    labels: tuple[str, ...]


STAYS_BEHIND = (
    StaysBehind(_("Teams’ codes and PINs"), _("Print their sign-in cards anew."), ("classroom.Team",)),
    StaysBehind(
        _("Coaches’ passwords and second steps"),
        _("Who has an account there keeps it; each of the others gets a link that sets a password."),
        ("classroom.User", "mfa.Authenticator"),
    ),
    StaysBehind(_("Links of families"), _("Hand out new slips."), ("classroom.SummaryLink",)),
    StaysBehind(_("Open invitations"), _("Invite again."), ("classroom.Invitation",)),
    StaysBehind(_("The calendar’s address"), _("Make a new one."), ("missions.CalendarFeed",)),
)


@dataclass(frozen=True)
class ArchivedKind:
    """``way`` is the lookup from its rows to the club."""

    label: str
    model: type[models.Model]
    way: str
    fields: tuple[models.Field[Any, Any], ...]

    @property
    def columns(self) -> tuple[str, ...]:
        return tuple(field.name for field in self.fields)

    def rows_of(self, club: Club) -> models.QuerySet[Any]:
        """In the order in which they are numbered in the archive, from 1."""
        return self.model._base_manager.filter(**{self.way: club.pk}).order_by("pk")

    @property
    def own_links(self) -> tuple[models.Field[Any, Any], ...]:
        """From a row to another of its kind, which may come later."""
        return tuple(field for field in self.fields if field.related_model is self.model)


#: A person has one role in a club, so that nobody is found twice.
_HAS_A_ROLE = "coach_roles__club"


@functools.cache
def archived_kinds() -> tuple[ArchivedKind, ...]:
    """Each after those that its rows point at. The log is last: it names rows of all kinds."""
    everything: list[type[models.Model]] = [*own_models(), User]
    found = [model for model in everything if model._meta.label not in LEFT_BEHIND]
    by_label = {model._meta.label: model for model in found}
    leads_to = {
        label: {field.related_model._meta.label for field in _carried(model) if isinstance(field.related_model, type)}
        for label, model in by_label.items()
    }
    leads_to[AuditEntry._meta.label] |= set(by_label)
    order = TopologicalSorter({label: sorted(leads_to[label] - {label}) for label in by_label}).static_order()
    kinds = [by_label[label] for label in order]
    return tuple(
        ArchivedKind(model._meta.label, model, club_path(model) or _HAS_A_ROLE, tuple(_carried(model)))
        for model in kinds
    )


def _carried(model: type[models.Model]) -> list[models.Field[Any, Any]]:
    left = FIELDS_LEFT_BEHIND.get(model._meta.label, {})
    return [field for field in model._meta.concrete_fields if not field.primary_key and field.name not in left]


@functools.cache
def made_with() -> dict[str, str]:
    """The newest migration of each app whose rows are archived: what tells an older helmroom that this one is newer."""
    leaves = MigrationLoader(None).graph.leaf_nodes()
    return {app: name for app, name in sorted(leaves) if app in _apps()}


@functools.cache
def known_migrations() -> frozenset[tuple[str, str]]:
    return frozenset(key for key in MigrationLoader(None).disk_migrations if key[0] in _apps())


def _apps() -> set[str]:
    return {kind.model._meta.app_label for kind in archived_kinds()}


@functools.cache
def code_kinds() -> frozenset[str]:
    """The kinds of which a coded text may speak, whether their rows are archived or not."""
    return frozenset({model._meta.model_name or "" for model in apps.get_models()} | {"link", "support"})
