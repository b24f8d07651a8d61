"""A row that somebody names on the command line."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError


def one_row(rows: Any, field: str, said: str, what: str, nothing: str) -> Any:
    """The one that is called so, else the one with that number; ``nothing`` ends the sentence of a refusal."""
    found = list(rows.filter(**{field: said})[:2]) or (list(rows.filter(pk=int(said))) if said.isdecimal() else [])
    if not found:
        raise CommandError(f"There is no {what} called “{said}”; {nothing}.", returncode=2)
    if len(found) > 1:
        keys = ", ".join(str(key) for key in rows.filter(**{field: said}).order_by("pk").values_list("pk", flat=True))
        raise CommandError(f"More than one {what} is called “{said}”; say its number: {keys}.", returncode=2)
    return found[0]
