"""The ways through the models: from any record to its club, and from a child to all that names it."""

from __future__ import annotations

import functools
from typing import Any

from django.apps import apps
from django.db import models

from classroom.models import Club, Member


def own_models() -> list[type[models.Model]]:
    """Every model whose rows hang off a club, in the order in which the apps were loaded."""
    return [model for model in apps.get_models() if club_path(model) is not None]


def club_path(model: type[models.Model]) -> str | None:
    """The lookup from a model to its club's key, the shortest over links that are always there; "pk" for the club itself.

    >>> from classroom.models import Attendance
    >>> club_path(Attendance)
    'member__club'
    """
    return _club_path(model._meta.label)


@functools.cache
def _club_path(label: str) -> str | None:
    model = apps.get_model(label)
    if model is Club:
        return "pk"
    found: list[tuple[Any, str]] = [(model, "")]
    seen = {model}
    while found:
        here, way = found.pop(0)
        for field in sorted(here._meta.concrete_fields, key=lambda f: f.related_model is not Club):
            target = field.related_model
            if not field.is_relation or field.null or not isinstance(target, type) or target in seen:
                continue
            step = f"{way}__{field.name}" if way else field.name
            if target is Club:
                return step
            seen.add(target)
            found.append((target, step))
    return None


@functools.cache
def naming_models() -> dict[type[models.Model], str]:
    """The models with a link to a child, and its name."""
    return {
        model: field.name
        for model in apps.get_models()
        for field in model._meta.concrete_fields
        if field.related_model is Member
    }
