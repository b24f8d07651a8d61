"""A whole installation goes on in another database: every row, the numbers that come next, and nothing half-done.

The suite runs on SQLite and on PostgreSQL, so that each of the four ways between them is gone.
"""

from __future__ import annotations

import os
import re
import sqlite3
from contextlib import contextmanager
from urllib.parse import urlsplit

import psycopg
import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connection, connections

from classroom.models import Club, Member, Team, User
from classroom.records import move_database as moving
from classroom.records.backup import counts_now
from config.process.lock import FolderLock
from missions.models import Attempt
from tests import factories as make
from tests.classroom.records.whole_club import whole_club
from tests.servers import answers

POSTGRES = os.environ.get("HELMROOM_TEST_POSTGRES", "postgres://postgres@127.0.0.1:5432/postgres")


@pytest.fixture(autouse=True)
def own_folder(monkeypatch, tmp_path):
    """The suite's processes share one, and two that move at once would find each other running."""
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path / "data")


@pytest.fixture
def club(transactional_db, django_db_blocker):
    """With rows of every kind; the newest child is gone again, so that its number is used up."""
    club = whole_club()
    club.members.create(nickname="Gone").delete()
    with django_db_blocker.unblock():  # another database than the suite's own is what this is about
        yield club


@contextmanager
def looked_into(address):
    """The other database through Django, beside the one in use."""
    config = moving._read_address(address)
    with moving._connected(config):
        yield moving.THERE


def refused(*args):
    before = counts_now()
    with pytest.raises(CommandError) as error:
        call_command("move_to", *map(str, args))
    assert error.value.returncode == 2 and counts_now() == before
    return str(error.value)


def compare_all(address, told):
    """Row by row by Django itself, and the next numbers by giving them."""
    with looked_into(address) as there:
        for model in moving.moved_models():
            here = sorted(model._base_manager.values_list(), key=repr)
            assert sorted(model._base_manager.using(there).values_list(), key=repr) == here, model
            if here:
                assert re.search(rf" {len(here)}  {model._meta.db_table}\n", told)
        for user in User.objects.all():  # unlike in a club's archive: it is the same installation
            assert User.objects.using(there).get(pk=user.pk).check_password(make.PASSWORD)
        last = Member.objects.order_by("pk").last().pk
        fresh = Member(club_id=Club.objects.get().pk, nickname="Next")
        fresh.save(using=there)
        assert fresh.pk == last + 2  # the one that is gone had its own


def test_it_moves_to_sqlite_unless_a_row_is_not_the_same_there_or_something_is_there_already(
    club, tmp_path, capsys, monkeypatch
):
    file = tmp_path / "there.sqlite3"
    address = f"sqlite:///{file}"
    prepare_tables(file)
    with monkeypatch.context() as lying:
        lying.setattr(moving, "table_sum", one_table_differs(moving.table_sum))
        words = refused(address)
    assert "missions_attempt" in words and "as it was" in words
    with sqlite3.connect(file) as there:
        assert there.execute("SELECT count(*) FROM classroom_member").fetchone() == (0,)
    call_command("move_to", address)
    told = capsys.readouterr().out
    assert "read again there and the same" in told and "same secret" in told
    compare_all(address, told)
    before = file.read_bytes()
    assert "not empty" in refused(address) and file.read_bytes() == before


def prepare_tables(file):
    """Empty ones, where they can be copied: making them takes longer than all else. On PostgreSQL they are made."""
    if connection.vendor != "sqlite":
        file.touch(mode=0o600)
        return
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(file)])
    with sqlite3.connect(file) as there:
        for (table,) in there.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
            if table != "django_migrations":
                there.execute(f'DELETE FROM "{table}"')


def one_table_differs(honest):
    def told(model, using):
        count, total = honest(model, using)
        return (count, "0") if model is Attempt and using == moving.THERE else (count, total)

    return told


def test_a_database_of_somebody_else_is_left_alone(club, tmp_path):
    other = tmp_path / "other.sqlite3"
    with sqlite3.connect(other) as there:
        there.execute("CREATE TABLE tide (height REAL)")
    assert "something in tide" in refused(f"sqlite:///{other}")


@pytest.fixture
def postgres():
    """The address of an empty database of our own."""
    where, name = urlsplit(POSTGRES), f"helmroom_move_{os.getpid()}"
    server = where._replace(path="/postgres").geturl()
    with psycopg.connect(server, autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {name}")
        try:
            yield where._replace(path=f"/{name}").geturl()
        finally:
            admin.execute(f"DROP DATABASE {name}")


@pytest.mark.slow
@pytest.mark.postgres
@pytest.mark.skipif(not answers(POSTGRES, 5432), reason="no PostgreSQL answers")
def test_it_moves_to_postgresql_and_a_row_that_this_does_not_take_stops_all_of_it(club, postgres, capsys):
    if connection.vendor == "sqlite":  # which holds no text to its length
        Club.objects.filter(pk=club.pk).update(name="x" * 200)
        assert "did not take all of it" in refused(postgres)
        Club.objects.filter(pk=club.pk).update(name=club.name)
    call_command("move_to", postgres)  # the empty tables that the refusal left are no hindrance
    compare_all(postgres, capsys.readouterr().out)
    assert "not empty" in refused(postgres)


def test_the_sum_of_a_table_feels_every_row_and_value(club):
    before = moving.table_sum(Team, "default")
    for change in ({"name": "Curlew "}, {"order": 3}, {"archived_at": make.NOW}):
        team = Team.objects.filter(name="Curlew")
        team.update(**change)
        assert moving.table_sum(Team, "default") != before
        Team.objects.filter(club=club, name__startswith="Curlew").update(name="Curlew", order=0, archived_at=None)
    assert moving.table_sum(Team, "default") == before
    make.TeamFactory(club=club)
    assert moving.table_sum(Team, "default")[0] == before[0] + 1


def test_what_leads_nowhere_is_refused_in_a_sentence(club, tmp_path):
    for address in ("words", "mysql://root@127.0.0.1/helmroom", "sqlite://:memory:", ""):
        assert "no address of a database" in refused(address)
    assert "Nothing to move to" in refused("postgres://postgres@127.0.0.1:1/helmroom")
    assert "cannot be made" in refused(f"sqlite:///{tmp_path}/no/folder.sqlite3")
    here = connection.settings_dict
    if connection.vendor == "sqlite":
        assert "the database in use" in refused(f"sqlite:///{here['NAME']}")
    assert moving.THERE not in connections.databases


def test_a_new_file_is_its_owners_alone_and_gone_when_nothing_came_of_it(club, tmp_path):
    file = tmp_path / "new.sqlite3"
    with pytest.raises(ZeroDivisionError), looked_into(f"sqlite:///{file}"):
        assert oct(file.stat().st_mode & 0o777) == "0o600"
        raise ZeroDivisionError
    assert not file.exists()


def test_while_helmroom_runs_or_is_older_nothing_is_moved(club, tmp_path, monkeypatch):
    address = f"sqlite:///{tmp_path / 'there.sqlite3'}"
    lock = FolderLock(settings.DATA_DIR)
    lock.take()
    try:
        assert "helmroom is running" in refused(address)
    finally:
        lock.release()
    monkeypatch.setattr(moving.MigrationExecutor, "migration_plan", lambda *_: ["one"])
    assert "manage.py migrate" in refused(address) and not (tmp_path / "there.sqlite3").exists()


def test_help_of_it_has_an_example(capsys):
    with pytest.raises(SystemExit):
        call_command("move_to", "--help")
    assert "manage.py move_to postgres://" in re.sub(r"\s+", " ", capsys.readouterr().out).split("Example:")[1]
