"""Models and migrations agree, and each app has one chain."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.loader import MigrationLoader

APPS = ["classroom", "missions", "planning"]


def test_no_model_has_changed_without_a_migration(db):
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


@pytest.mark.parametrize("app", APPS)
def test_an_apps_migrations_are_one_chain(app, db):
    loader = MigrationLoader(connection)
    assert len(loader.graph.leaf_nodes(app)) == 1
    assert not loader.detect_conflicts()


@pytest.mark.parametrize("app", APPS)
def test_every_migration_can_be_undone(app, db):
    loader = MigrationLoader(connection)
    for (owner, name), migration in loader.disk_migrations.items():
        if owner == app:
            assert all(step.reversible for step in migration.operations), name
