"""What support changes: only for a reason, and told in the log of the club that it belongs to."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.db.models import ForeignKey, JSONField, Model, QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.models import Club, User
from config.support.documents import DocumentField
from config.support.reason import reason_given

log = logging.getLogger("helmroom.support")
#: Of a search.
MOST_LETTERS = 200


def clubs_of(row: Model) -> list[Club]:
    """The clubs whose record it is: its own, that of what it hangs on, or those in which a person is a coach."""
    if isinstance(row, User):
        return list(Club.objects.filter(coaches__user=row))
    rows: list[Model] = [row]
    seen: set[tuple[type[Model], Any]] = set()
    while rows:
        next_rows: list[Model] = []
        for one in rows:
            if isinstance(one, Club):
                return [one]
            seen.add((type(one), one.pk))
            ways = [field.name for field in one._meta.concrete_fields if isinstance(field, ForeignKey)]
            next_rows += [found for name in ways if (found := getattr(one, name)) is not None]
        rows = [found for found in next_rows if (type(found), found.pk) not in seen]
        if rows and all(isinstance(found, User) for found in rows):
            return clubs_of(rows[0])
    return []


class ToldChanges:
    """Beside a ``ModelAdmin``: a change needs a reason and leaves two lines in the club's log, what and why."""

    def has_add_permission(self, request: HttpRequest, *args: Any) -> bool:
        return _may_change(request) and super().has_add_permission(request, *args)  # type: ignore[misc]

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return _may_change(request) and super().has_change_permission(request, obj)  # type: ignore[misc]

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return _may_change(request) and super().has_delete_permission(request, obj)  # type: ignore[misc]

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return bool(request.user.is_active and request.user.is_staff)

    def formfield_for_dbfield(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        if isinstance(db_field, JSONField):
            kwargs["form_class"] = DocumentField
        return super().formfield_for_dbfield(db_field, request, **kwargs)  # type: ignore[misc]

    def get_search_results(self, request: HttpRequest, queryset: QuerySet[Any], search_term: str) -> Any:
        """A database gives up on a question that goes on for pages; nobody types one."""
        if len(search_term) > MOST_LETTERS:
            messages.warning(
                request,
                _("Search for %(most)s letters at most; these were %(count)s.")
                % {"most": MOST_LETTERS, "count": len(search_term)},
            )
            return queryset.none(), False
        return super().get_search_results(request, queryset, search_term)  # type: ignore[misc]

    def changelist_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """An action on many rows and its lines in the log: all of it or nothing."""
        with transaction.atomic():
            return super().changelist_view(request, *args, **kwargs)  # type: ignore[misc]

    def log_addition(self, request: HttpRequest, obj: Any, message: Any) -> Any:
        _tell(request, "support added", [obj])
        return super().log_addition(request, obj, message)  # type: ignore[misc]

    def log_change(self, request: HttpRequest, obj: Any, message: Any) -> Any:
        _tell(request, "support changed", [obj])
        return super().log_change(request, obj, message)  # type: ignore[misc]

    def log_deletions(self, request: HttpRequest, queryset: Any) -> Any:
        _tell(request, "support deleted", queryset)
        return super().log_deletions(request, queryset)  # type: ignore[misc]


def _may_change(request: HttpRequest) -> bool:
    return bool(reason_given(request))


def _tell(request: HttpRequest, verb: str, rows: Iterable[Model]) -> None:
    now, who = timezone.now(), f"support:{request.user.pk}"
    for row in rows:
        code = f"{row._meta.model_name}:{row.pk}"
        log.warning("user:%s %s %s", request.user.pk, verb, code)
        for club in clubs_of(row):
            note_in_audit(club, who, verb, code, now=now)
            note_in_audit(club, who, "support gave as its reason", reason_given(request), now=now)
