"""A club whose forms are filled in badly, and another one beside it, of which nothing may be seen or changed.

Every name and text of the other club has ``SENTINEL`` in it, so that one look at an answer says whether anything of it got out.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.apps import apps
from django.db.models import CharField, Model, TextField

from classroom.models import AuditEntry
from tests.access import all_rows
from tests.conftest import Cast, make_cast
from tests.test_access import World

SENTINEL = "Quernstone"
OURS = ("classroom", "missions", "planning")
_NAMES = {
    "name", "nickname", "title", "text", "note", "summary", "brief", "first_name", "words", "reason", "learnt",
    "working_on", "ask_at_home", "subject", "surface", "browser", "change_to_try",
}  # fmt: skip


def models() -> list[type[Model]]:
    return [model for app in OURS for model in apps.get_app_config(app).get_models()]


def full_world(cast: Cast) -> tuple[World, dict[str, dict[str, Any]], dict[str, Any]]:
    """A world with a row for every address; the addresses' arguments and what is usually sent to each, by the row's key."""
    world = World(cast)
    arguments, sent = {}, {}
    for key, row in all_rows().items():
        arguments[key] = row.kwargs(world)
        sent[key] = row.data(world)
    return world, arguments, sent


class OtherClub:
    """Made first and alone, so that all rows there are are its own."""

    def __init__(self) -> None:
        self.world, self.arguments, _ = full_world(make_cast())
        self.cast = self.world.cast
        for model in set(models()) - {AuditEntry}:  # which nobody changes
            named = [
                f for f in model._meta.concrete_fields if f.name in _NAMES and isinstance(f, CharField | TextField)
            ]
            for row in model._default_manager.all() if named else []:
                for each in named:
                    setattr(row, each.attname, f"{SENTINEL} {row.pk}"[: each.max_length or 200])
                row.save(update_fields=[f.name for f in named])
        self.was = {model: self._rows(model) for model in models()}
        self.keys = {model: set(rows) for model, rows in self.was.items()}
        assert SENTINEL in str(self.was)

    @property
    def foreign(self) -> list[str]:
        """Keys as a form would send them: numbers, and a run's long ones."""
        return sorted({str(key) for keys in self.keys.values() for key in keys})

    def _rows(self, model: type[Model]) -> dict[Any, dict[str, Any]]:
        return {row["pk"]: row for row in model._default_manager.values("pk", *_columns(model))}

    def harmed(self, written: Iterable[str]) -> list[str]:
        """What is not as it was in the tables that were written to: rows changed or gone, and others' rows that name one of them."""
        wrong = []
        for model in models():
            if model._meta.db_table not in written:
                continue
            now, keys = self._rows(model), self.keys[model]
            wrong += [f"{model.__name__} {pk} changed" for pk in keys if now.get(pk) != self.was[model][pk]]
            links = [f for f in model._meta.concrete_fields if f.is_relation and f.related_model in self.keys]
            for pk, row in now.items():
                if pk not in keys:
                    wrong += [
                        f"{model.__name__} {pk} names the other club by {link.name}"
                        for link in links
                        if row[link.attname] in self.keys[link.related_model]
                    ]
        return wrong


def _columns(model: type[Model]) -> list[str]:
    return [f.attname for f in model._meta.concrete_fields]
