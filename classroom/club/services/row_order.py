"""Rows that a club keeps in an order of its own."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet


def move_up(rows: QuerySet[Any], row: Any) -> None:
    """One place earlier among ``rows``, which are held until the transaction ends; the first stays."""
    held = list(rows.select_for_update())
    at = next((place for place, other in enumerate(held) if other.pk == row.pk), 0)
    if at:
        held[at - 1 : at + 1] = [held[at], held[at - 1]]
    for order, other in enumerate(held):
        if other.order != order:
            other.order = order
            other.save(update_fields=["order"])
    row.club.touch()
