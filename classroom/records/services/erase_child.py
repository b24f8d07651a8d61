"""A child is erased: every row, every sentence that names it, every line of the log that points at it. Teams keep
their runs and totals, which name no child.

GDPR art. 17 (erasure) and 16 CFR 312.6(a)(2), 312.10 (deletion), as far as a program can do it; both from memory.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.contrib.admin.models import LogEntry
from django.contrib.contenttypes.models import ContentType
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.db import models, transaction
from django.db.models import Q
from django.utils.translation import ngettext

from classroom.access import FAMILY_KEY
from classroom.club.services.audit import Actor, note_in_audit
from classroom.families.mail_folder import take_mail_to
from classroom.models import AuditEntry, Club, GuardianContact, Member, SummaryLink
from classroom.records.kept import FREE_DOCUMENTS, FREE_TEXT
from classroom.records.walk import club_path, naming_models

GONE = "(erased)"
GONE_FROM_LOG = "an erased child"


@dataclass(frozen=True)
class Erased:
    """How many ``rows`` of what went, from how many sentences the name was taken, how many lines of the log point at nobody now."""

    rows: dict[str, int]
    sentences: int
    log_lines: int
    visits: int

    @property
    def words(self) -> str:
        rows = sum(self.rows.values())
        parts = (
            ngettext("%(count)s row is deleted", "%(count)s rows are deleted", rows) % {"count": rows},
            ngettext("the name is out of %(count)s sentence", "the name is out of %(count)s sentences", self.sentences)
            % {"count": self.sentences},
            ngettext(
                "%(count)s line of the log names nobody now",
                "%(count)s lines of the log name nobody now",
                self.log_lines,
            )
            % {"count": self.log_lines},
            ngettext("%(count)s visit is ended", "%(count)s visits are ended", self.visits) % {"count": self.visits},
        )
        return f"{', '.join(parts)}."


@transaction.atomic
def erase_child(member: Member, by: Actor, *, now: dt.datetime) -> Erased:
    """All of it or nothing. What is left in the file of the database is another step (``records/scrub.py``)."""
    member = Member.objects.select_for_update(of=("self",)).select_related("club").get(pk=member.pk)
    club, name, key = member.club, member.nickname, member.pk
    links = list(SummaryLink.objects.filter(member=member).values_list("pk", flat=True))
    visits = _end_visits(links, name)
    _forget_in_support_log(member)
    log_lines = _unlink_log(
        club, {f"member:{key}", *(f"{kind}:{pk}" for kind in ("link", "summarylink") for pk in links)}
    )
    take_mail_to(GuardianContact.objects.filter(member=member).values_list("email", flat=True))
    rows = member.delete()[1]
    sentences = _take_name_out(club, name)
    note_in_audit(club, by, "erased child", now=now)
    club.touch()
    return Erased({label: count for label, count in rows.items() if count}, sentences, log_lines, visits)


def name_pattern(name: str) -> re.Pattern[str]:
    """The name as a word by itself, as it is written or in capitals: "Robin", "ROBIN's", not "Robinson"."""
    return re.compile(rf"(?<!\w)(?:{re.escape(name)}|{re.escape(name.upper())})(?!\w)")


def sentences_with(club: Club, name: str) -> Iterator[tuple[models.Model, str, Any]]:
    """Each row of the club, its field and the field's new value, where a name is in what people typed."""
    pattern = name_pattern(name)
    for label, fields in FREE_TEXT.items():
        for row in _rows_with(label, fields, club, name):
            for field in fields:
                text = getattr(row, field)
                if new := _without(text, pattern, row._meta.get_field(field).max_length):
                    yield row, field, new
    for label, fields in FREE_DOCUMENTS.items():
        for row in _rows_of(label, club).only("pk", *fields).iterator():
            for field in fields:
                document = getattr(row, field)
                if (cleaned := _cleaned(document, pattern)) != document:
                    yield row, field, cleaned


def _take_name_out(club: Club, name: str) -> int:
    changed = 0
    for row, field, value in list(sentences_with(club, name)):
        type(row)._default_manager.filter(pk=row.pk).update(**{field: value})
        changed += 1
    return changed


def _rows_of(label: str, club: Club) -> models.QuerySet[Any]:
    model = apps.get_model(label)
    return model._default_manager.filter(**{str(club_path(model)): club.pk})


def _rows_with(label: str, fields: Iterable[str], club: Club, name: str) -> models.QuerySet[Any]:
    holds = Q()
    for field in fields:
        holds |= Q(**{f"{field}__icontains": name}) | Q(**{f"{field}__contains": name.upper()})
    return _rows_of(label, club).filter(holds)


def _without(text: str, pattern: re.Pattern[str], longest: int | None) -> str:
    """The text without the name; empty when it is not in there."""
    new = pattern.sub(GONE, text)
    return "" if new == text else new[:longest]


def _cleaned(value: Any, pattern: re.Pattern[str]) -> Any:
    if isinstance(value, str):
        return pattern.sub(GONE, value)
    if isinstance(value, list):
        return [_cleaned(each, pattern) for each in value]
    if isinstance(value, dict):
        return {key: _cleaned(each, pattern) for key, each in value.items()}
    return value


def _unlink_log(club: Club, codes: set[str]) -> int:
    """The log's lines stay, with who and when; whom they were about is gone."""
    changed = 0
    told = Q(subject__contains="member:") | Q(subject__contains="link:") | Q(actor__contains="link:")
    for entry in AuditEntry.objects.filter(told, club=club).iterator():
        words = entry.subject.split()
        if entry.actor not in codes and not codes & set(words):
            continue
        actor = entry.actor.partition(":")[0] if entry.actor in codes else entry.actor
        subject = (
            GONE_FROM_LOG if len(words) == 1 and words[0] in codes else " ".join(w for w in words if w not in codes)
        )
        AuditEntry.objects.filter(pk=entry.pk).update(actor=actor, subject=subject)
        changed += 1
    return changed


def _end_visits(links: list[int], name: str) -> int:
    """Browsers that look at the child's page are shut out; what a session says of the child is taken out."""
    ended, pattern = 0, name_pattern(name)
    for session in Session.objects.iterator():
        data = session.get_decoded()
        if data.get(FAMILY_KEY) in links:
            session.delete()
            ended += 1
        elif pattern.search(str(data.get("_messages", ""))):
            del data["_messages"]
            session.session_data = SessionStore().encode(data)
            session.save(update_fields=["session_data"])
    return ended


def _forget_in_support_log(member: Member) -> None:
    rows = {Member: [member.pk]} | {
        model: list(model._default_manager.filter(**{field: member}).values_list("pk", flat=True))
        for model, field in naming_models().items()
    }
    for model, keys in rows.items():
        kind = ContentType.objects.get_for_model(model)
        entries = LogEntry.objects.filter(content_type=kind, object_id__in=[str(key) for key in keys])
        entries.update(object_id=None, object_repr=GONE, change_message="")
