"""What a screen costs hangs on its own club: with many clubs in one PostgreSQL no page reads a large table from end to end."""

from __future__ import annotations

import json
import os
import secrets
import subprocess
import sys
from urllib.parse import urlsplit

import psycopg
import pytest

from tests.config.plans import CLUBS, PAGES, RUNS
from tests.config.test_server_settings import ROOT
from tests.servers import answers

POSTGRES = os.environ.get("HELMROOM_TEST_POSTGRES", "postgres://postgres@127.0.0.1:5432/postgres")


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    where, name = urlsplit(POSTGRES), f"helmroom_plans_{os.getpid()}"
    env = os.environ | {
        "DJANGO_SETTINGS_MODULE": "config.settings.server",
        "HELMROOM_SECRET": secrets.token_urlsafe(50),
        "HELMROOM_HOSTS": "club.example",
        "HELMROOM_POOL": "0",
        "HELMROOM_BROKER": "embedded",
        "HELMROOM_DATA": str(tmp_path_factory.mktemp("plans")),
        "DATABASE_URL": where._replace(path=f"/{name}").geturl(),
    }
    collect = [sys.executable, "manage.py", "collectstatic", "--noinput", "--verbosity", "0"]
    subprocess.run(collect, cwd=ROOT, env=env, check=True, capture_output=True)
    with psycopg.connect(where._replace(path="/postgres").geturl(), autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {name}")
        try:
            command = [sys.executable, "-m", "tests.config.plans"]
            done = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True)
            assert done.returncode == 0, done.stderr[-2000:]
        finally:
            admin.execute(f"DROP DATABASE {name} WITH (FORCE)")
    return json.loads(done.stdout.splitlines()[-1])


pytestmark = [
    pytest.mark.slow,
    pytest.mark.postgres,
    pytest.mark.skipif(not answers(POSTGRES, 5432), reason="no PostgreSQL answers"),
]


def test_there_are_rows_enough_for_the_planner_to_choose(found):
    assert found["rows"] >= 0.9 * CLUBS * RUNS
    assert {"missions_attempt", "missions_progress", "missions_rotaturn", "classroom_member"} <= set(found["large"])
    assert set(found["explained"]) == set(PAGES)


def test_no_page_reads_a_large_table_from_end_to_end(found):
    assert [f"{page}: {table}: {sql}" for page, table, sql in found["whole"]] == []
