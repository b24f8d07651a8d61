"""A PostgreSQL whose disk is full: it refuses to write, a tablet and a coach read why, and nothing is lost or half saved.

The refusal is PostgreSQL's own error 53100, raised by a trigger on one table after the other (PostgreSQL's documentation,
"PostgreSQL Error Codes"); a disk that is really full is tried by ``make faults ONLY=database.disk_full``.
"""

from __future__ import annotations

import json
import os
import secrets
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import psycopg
import pytest

from tests.config.test_database_away import POSTGRES, most_s, needs_postgres
from tests.config.test_server_settings import GOOD, ROOT

SITE = """
import json, sys, time, django
from django.conf import settings
settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
django.setup()
from django.core.management import call_command
from django.test import Client
call_command("migrate", verbosity=0)
from benchmarks.tablet_server import populate
print(json.dumps(populate(1)), flush=True)
for line in sys.stdin:
    session, path, body, kind = json.loads(line)
    browser = Client(raise_request_exception=False, headers={"host": "club.example", "accept": kind})
    browser.cookies[settings.SESSION_COOKIE_NAME] = session
    began = time.monotonic()
    answer = browser.post(path, body, content_type=kind, secure=True)
    print(json.dumps([answer.status_code, time.monotonic() - began, answer.headers.get("Retry-After"), answer.content.decode()]), flush=True)
"""
REFUSES = """
CREATE FUNCTION no_room() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'could not extend file: No space left on device' USING ERRCODE = '53100'; END $$
"""
JSON, FORM = "application/json", "application/x-www-form-urlencoded"


class Full:
    """A club on a PostgreSQL whose tables can be filled up."""

    def __init__(self, folder: Path, name: str) -> None:
        where = urlsplit(POSTGRES)
        self.address = where._replace(path=f"/{name}").geturl()
        told = {"HELMROOM_DATA": str(folder), "DATABASE_URL": self.address}
        self.process = subprocess.Popen(
            [sys.executable, "-c", SITE], cwd=ROOT, env=os.environ | GOOD | told, stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, stderr=(folder / "said").open("w"), text=True,
        )  # fmt: skip
        assert self.process.stdout
        first = self.process.stdout.readline()
        assert first, (folder / "said").read_text()
        self.club: dict[str, Any] = json.loads(first)
        self.run(REFUSES)

    def run(self, statement: str) -> list[tuple[Any, ...]]:
        with psycopg.connect(self.address, autocommit=True) as line:
            done = line.execute(statement)  # type: ignore[arg-type]
            return done.fetchall() if done.description else []

    def fill(self, table: str) -> None:
        self.run(f"CREATE TRIGGER no_room BEFORE INSERT OR UPDATE ON {table} EXECUTE FUNCTION no_room()")

    def make_room(self, table: str) -> None:
        self.run(f"DROP TRIGGER no_room ON {table}")

    def rows(self) -> list[list[tuple[Any, ...]]]:
        """All that a run changes."""
        return [self.run(f"SELECT * FROM {table} ORDER BY id") for table in WRITTEN]

    def post(self, session: str, path: str, body: str, kind: str) -> tuple[int, float, str | None, str]:
        assert self.process.stdin and self.process.stdout
        self.process.stdin.write(json.dumps([session, path, body, kind]) + "\n")
        self.process.stdin.flush()
        status, took_s, retry_after, said = json.loads(self.process.stdout.readline())
        return status, took_s, retry_after, said

    def send_run(self, uuid: str) -> tuple[int, float, str | None, dict[str, Any]]:
        team = self.club["teams"][0]
        run = {
            "do": "log", "uuid": uuid, "tier": team["tier"], "made_at": "2026-11-20T16:00:00+00:00", "duration": "38.2",
            "outcome_left_base": "yes", "outcome_done": "yes", "outcome_home": "no", "sideways": "4", "side": "left",
            "cause": "turned_too_far",
        }  # fmt: skip
        body = json.dumps({"team": team["team"], "now": "2026-11-20T16:00:01+00:00", "items": [run]})
        status, took_s, retry_after, said = self.post(team["session"], "/team/runs/", body, JSON)
        return status, took_s, retry_after, json.loads(said)


#: Tables that a run writes into, the first and the last.
WRITTEN = ["missions_attempt", "missions_progress"]


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Full]:
    name = f"helmroom_full_{secrets.token_hex(4)}"
    with psycopg.connect(POSTGRES, autocommit=True) as line:
        line.execute(f"CREATE DATABASE {name}")  # type: ignore[arg-type]
        site = None
        try:
            site = Full(tmp_path_factory.mktemp("full"), name)
            yield site
        finally:
            if site:
                site.process.kill()
                site.process.wait()
            line.execute(f"DROP DATABASE {name} WITH (FORCE)")  # type: ignore[arg-type]


pytestmark = [pytest.mark.slow, pytest.mark.postgres, needs_postgres]


@pytest.mark.parametrize("table", WRITTEN)
def test_a_run_waits_on_the_tablet_and_is_kept_once_when_there_is_room_again(full: Full, table: str) -> None:
    uuid, before = str(uuid4()), full.rows()
    full.fill(table)
    status, took_s, retry_after, said = full.send_run(uuid)
    assert (status, retry_after) == (503, "5") and took_s < most_s()
    assert "cannot be reached just now" in said["words"]
    assert full.rows() == before
    full.make_room(table)
    for _ in range(2):
        status, _, _, said = full.send_run(uuid)
        assert (status, said["replies"][0]["status"]) == (200, 200)
    kept = full.run(f"SELECT count(*) FROM missions_attempt WHERE uuid = '{uuid}'")
    assert kept == [(1,)] and len(full.rows()[0]) == len(before[0]) + 1


def test_a_coach_reads_it_in_words_and_nothing_is_asked_for(full: Full) -> None:
    full.fill("planning_job")
    status, took_s, retry_after, page = full.post(full.club["coach"], "/families/drafts/", "", FORM)
    assert (status, retry_after) == (503, "5") and took_s < most_s()
    assert "cannot be reached just now" in page
    assert full.run("SELECT count(*) FROM planning_job") == [(0,)]
    full.make_room("planning_job")
    assert full.post(full.club["coach"], "/families/drafts/", "", FORM)[0] == 302
    assert full.run("SELECT count(*) FROM planning_job") == [(1,)]
