"""An installation of any earlier day comes up to date with everything that it had.

One database grows from nothing, a migration at a time. After each of them a row of every kind there then is is made, as that
day's models have it; at the end every row of every day is still there, and says what it said.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, connections, models
from django.db.migrations.executor import MigrationExecutor

from tests import factories as make

APPS = ("classroom", "missions", "planning")
NOW = make.NOW
BOX = [[0, 0], [520, 0], [520, 450], [0, 450]]
#: Where a value of its kind would not do.
SAYS: dict[str, Any] = {
    "time_zone": "Europe/London",
    "language": "en",
    "ends_at": NOW + dt.timedelta(hours=1),
    "expires_at": NOW + dt.timedelta(days=30),
    "ends_on": NOW.date() + dt.timedelta(days=30),
    "until_on": None,
    "base": BOX,
    "target": make.GATE,
    "criteria": make.CRITERIA,
    "start": {"x_mm": 120, "y_mm": 225, "heading_deg": 0},
    "width_mm": 2400,
    "depth_mm": 1200,
    "track_width_mm": 112,
    "wheel_diameter_mm": 56,
    "travel_footprint": make.BOX_WITH_TOOL,
    "missing_corner": "",
    "missing_width_mm": 0,
    "missing_depth_mm": 0,
    "next_try_at": NOW,
    "no_mail_why": "",
    "part": "tyres",
    "by_hand": True,
    "spare_count": 0,
    "answer": "",
    "job": "drive",
}


@pytest.fixture
def empty(transactional_db: None, tmp_path: Path) -> Iterator[None]:
    """In the place of the suite's own database one without any table, of the same kind."""
    usual, said = connections["default"], connections.databases["default"]
    own = dict(usual.settings_dict)
    is_file = usual.vendor == "sqlite"
    own["NAME"] = str(tmp_path / "first.sqlite3") if is_file else f"{own['NAME']}_first_day"

    def ask(words: str) -> None:
        if not is_file:
            with usual.cursor() as cursor:
                cursor.execute(f'{words} "{own["NAME"]}"')

    ask("DROP DATABASE IF EXISTS")
    ask("CREATE DATABASE")
    connections.databases["default"] = own
    connections["default"] = connections.create_connection("default")
    try:
        yield
    finally:
        connections["default"].close()
        connections["default"], connections.databases["default"] = usual, said
        ask("DROP DATABASE")


class Day:
    """A row of every kind as the models are after ``migration``; ``kept`` is what each of them said."""

    def __init__(self, apps: Any, number: int, migration: str) -> None:
        self.migration, self.number = migration, number
        self.rows: dict[str, Any] = {}
        self.kept: dict[str, dict[str, Any]] = {}
        waiting = [model for app in APPS for model in apps.get_app_config(app).get_models()]
        while waiting:
            ready = [
                model for model in waiting if all(f.related_model._meta.label in self.rows for f in _needed(model))
            ]
            assert ready, f"nothing to begin with among {waiting}"
            for model in ready:
                self._make(model)
            waiting = [model for model in waiting if model not in ready]

    def _make(self, model: Any) -> None:
        values = {}
        for field in model._meta.concrete_fields:
            if field.is_relation and not field.null:
                values[field.attname] = self.rows[field.related_model._meta.label].pk
            elif not (field.primary_key or field.is_relation) and (field.name in SAYS or not field.null):
                values[field.name] = self._value(field)
        row = model._default_manager.create(**values)
        label = model._meta.label
        self.rows[label] = row
        self.kept[label] = model._default_manager.filter(pk=row.pk).values().get()

    def _value(self, field: Any) -> Any:
        n = self.number
        if field.name in SAYS:
            return SAYS[field.name]
        if field.has_default() and not field.unique:
            return field.get_default()
        if field.choices:
            return field.choices[0][0]
        kinds: list[tuple[Any, Any]] = [
            (models.EmailField, f"day{n}@example.org"),
            ((models.CharField, models.TextField), _text(field, n)),
            (models.UUIDField, uuid.UUID(int=n)),
            (models.BooleanField, False),
            (models.DateTimeField, NOW),
            (models.DateField, NOW.date()),
            (models.TimeField, dt.time(16)),
            (models.FloatField, 1.0),
            (models.IntegerField, n),
            (models.JSONField, []),
        ]
        return next(value for kind, value in kinds if isinstance(field, kind))


def _needed(model: Any) -> list[Any]:
    ours = [f for f in model._meta.concrete_fields if f.is_relation and not f.null]
    return [f for f in ours if f.related_model._meta.app_label in APPS and f.related_model is not model]


def _text(field: Any, n: int) -> str:
    long = f"{n:064x}" if "digest" in field.name or "hash" in field.name else f"{n:02d} {field.name}"
    return long[-field.max_length :] if field.max_length and "digest" in field.name else long[: field.max_length]


@pytest.mark.slow
def test_rows_of_every_earlier_day_are_there_today_and_say_what_they_said(empty: None) -> None:
    executor, state, days = MigrationExecutor(connection), None, []
    first = [(app, "0001_initial") for app in APPS]
    for targets in (first, executor.loader.graph.leaf_nodes()):
        for step in executor.migration_plan(targets):
            state = executor.migrate(None, plan=[step], state=state)
            executor = MigrationExecutor(connection)
            if targets is not first and step[0].app_label in APPS:
                days.append(Day(state.apps, len(days) + 1, str(step[0])))
        if targets is first:
            days.append(Day(state.apps, 1, "the first day"))
    assert len(days) > 20
    lost = []
    for day in days:
        for label, kept in day.kept.items():
            now = state.apps.get_model(label)._default_manager.filter(pk=kept["id"]).values().first()
            if now is None:
                lost.append(f"{label} of {day.migration}")
            else:
                lost += [
                    f"{label}.{name} of {day.migration}" for name in kept.keys() & now.keys() if now[name] != kept[name]
                ]
    assert lost == []
    today = {label: state.apps.get_model(label)._default_manager.count() for label in days[-1].kept}
    assert all(count >= sum(label in day.kept for day in days) for label, count in today.items())
