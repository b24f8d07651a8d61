"""A server whose PostgreSQL is away says so within three seconds, and is well again by itself."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
import pytest

from config.process.postgresql import silence
from config.process.postgresql.silence import WatchedConnection
from tests.config.test_server_settings import GOOD, ROOT, run
from tests.patience import until
from tests.servers import answers


def most_s() -> float:
    """What a coach is to wait at most: three seconds on a machine that does little else.

    Nothing waits for a time to pass, the site's own answer is what is timed; where more wants to run than there are
    processors, each takes so many times as long.
    """
    return 3.0 * max(1.0, os.getloadavg()[0] / (os.cpu_count() or 1))


ASK = """
import json, time, django
from django.conf import settings
settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
django.setup()
from django.test import Client
from django.urls import reverse
browser, page = None, reverse("board")  # loads every view, as a server does before it answers
browser = Client(raise_request_exception=False, headers={"host": "club.example"})
def ask():
    began = time.monotonic()
    answer = browser.get(page, secure=True)
    took_s = time.monotonic() - began
    said = [answer.status_code, took_s, answer.headers.get("Retry-After"), answer.content.decode()]
    print(json.dumps(said), flush=True)
"""


#: Whoever has been here before is looked up in the database.
KNOWN = """
browser.cookies[settings.SESSION_COOKIE_NAME] = "x" * 32
"""


@pytest.fixture(params=["nobody listens", "nobody answers"])
def dead_port(request: pytest.FixtureRequest) -> Iterator[int]:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        if request.param == "nobody answers":
            held.listen(64)
        yield held.getsockname()[1]


@pytest.mark.slow
@pytest.mark.parametrize("pool", ["1", "0"])
def test_it_says_so_in_words_within_three_seconds(tmp_path: Path, dead_port: int, pool: str) -> None:
    away = f"postgres://h:h@127.0.0.1:{dead_port}/h"
    done = run("-c", ASK + KNOWN + "ask()", tmp_path=tmp_path, HELMROOM_POOL=pool, DATABASE_URL=away)
    status, took_s, retry_after, page = json.loads(done.stdout.splitlines()[-1])
    assert (status, retry_after) == (503, "5"), done.stderr
    assert "cannot be reached just now" in page
    assert took_s < most_s()
    assert "Traceback" not in done.stderr


POSTGRES = os.environ.get("HELMROOM_TEST_POSTGRES", "postgres://postgres@127.0.0.1:5432/postgres")


class Way:
    """The way to the real PostgreSQL, which can be cut and mended: a port that passes everything on while it is open."""

    def __init__(self) -> None:
        where = urlsplit(POSTGRES)
        self.to = (where.hostname or "127.0.0.1", where.port or 5432)
        self.port = 0
        self.goes_on = threading.Event()
        self.goes_on.set()
        self.open()
        self.address = POSTGRES.replace(where.netloc, f"{where.username or 'postgres'}@127.0.0.1:{self.port}")

    def open(self) -> None:
        self.lines: list[socket.socket] = []
        self.door = socket.create_server(("127.0.0.1", self.port))
        self.port = self.door.getsockname()[1]
        threading.Thread(target=self._take, args=[self.door], daemon=True).start()

    def cut(self) -> None:
        for line in (self.door, *self.lines):
            with contextlib.suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)
            line.close()

    def hang(self) -> None:
        """Connections are taken and confirmed, and nothing comes through, as from a machine that stands still."""
        self.goes_on.clear()

    def go_on(self) -> None:
        self.goes_on.set()

    def _take(self, door: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while True:
                near = door.accept()[0]
                far = socket.create_connection(self.to)
                self.lines += [near, far]
                for one, other in ((near, far), (far, near)):
                    threading.Thread(target=self._pass_on, args=[one, other], daemon=True).start()

    def _pass_on(self, one: socket.socket, other: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := one.recv(65536):
                self.goes_on.wait()
                other.sendall(data)


class Site:
    """A server's process that asks for a page whenever it is told which, on the way to PostgreSQL."""

    def __init__(self, tmp_path: Path, way: Way, pool: str) -> None:
        told = {"HELMROOM_DATA": str(tmp_path), "HELMROOM_POOL": pool, "DATABASE_URL": way.address}
        known = f"    if page == '/': {KNOWN.strip()}\n"
        each = "import sys\nfor line in sys.stdin:\n    page = line.strip()\n    browser.cookies.clear()\n"
        code = f"{ASK}{each}{known}    ask()\n"
        self.process = subprocess.Popen(
            [sys.executable, "-c", code], cwd=ROOT, env=os.environ | GOOD | told, stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        )  # fmt: skip

    def ask(self, path: str) -> tuple[int, float, str | None, str]:
        """Status, seconds, when to come again, and the page."""
        assert self.process.stdin and self.process.stdout
        self.process.stdin.write(f"{path}\n")
        self.process.stdin.flush()
        status, took_s, retry_after, page = json.loads(self.process.stdout.readline())
        return status, took_s, retry_after, page

    def database_answers(self) -> bool:
        return bool(json.loads(self.ask("/ready/")[3])["database"])

    def close(self) -> None:
        self.process.kill()
        self.process.wait()


@pytest.fixture
def way() -> Iterator[Way]:
    way = Way()
    yield way
    way.go_on()
    way.cut()


@pytest.fixture(params=["1", "0"], ids=["pool", "no pool"])
def site(request: pytest.FixtureRequest, tmp_path: Path, way: Way) -> Iterator[Site]:
    site = Site(tmp_path, way, request.param)
    yield site
    site.close()


@pytest.fixture
def nobody_was_silent(monkeypatch: pytest.MonkeyPatch) -> None:
    """A process has one database, and remembers for a second that it was silent: neither from an earlier test nor for a later one."""
    monkeypatch.setattr(silence, "_unanswered_at", float("-inf"))


needs_postgres = pytest.mark.skipif(not answers(POSTGRES, 5432), reason="no PostgreSQL answers")


@pytest.mark.slow
@pytest.mark.postgres
@needs_postgres
def test_cut_off_it_is_well_again_by_itself(site: Site, way: Way) -> None:
    assert site.database_answers()
    way.cut()
    assert not site.database_answers()
    way.open()
    until(site.database_answers, "the site to be well again")


@pytest.mark.slow
@pytest.mark.postgres
@needs_postgres
def test_one_that_hangs_is_said_in_words_within_three_seconds_each_time(site: Site, way: Way) -> None:
    """The connection stands, and what is asked over it, or over a new one, is never answered."""
    assert site.database_answers()
    way.hang()
    for _ in range(3):
        status, took_s, retry_after, page = site.ask("/")
        assert (status, retry_after) == (503, "5")
        assert "cannot be reached just now" in page
        assert took_s < most_s()
    way.go_on()
    until(site.database_answers, "the site to be well again")


@pytest.mark.postgres
@pytest.mark.usefixtures("nobody_was_silent")
@needs_postgres
def test_one_that_has_long_to_do_is_waited_for() -> None:
    where = urlsplit(POSTGRES)
    with WatchedConnection.connect(POSTGRES) as line:
        assert line.execute("select pg_sleep(%s), 7", [3 * silence.SILENT_S]).fetchone() == ("", 7)
    assert silence.answers(where.hostname or "127.0.0.1", where.port or 5432)


@pytest.mark.postgres
@pytest.mark.usefixtures("nobody_was_silent")
@needs_postgres
def test_a_question_that_is_never_answered_is_given_up_with_its_connection(way: Way) -> None:
    line = WatchedConnection.connect(way.address)
    way.hang()
    with pytest.raises(psycopg.OperationalError, match="does not answer"):
        line.execute("select 1")
    assert line.closed and silence.lately_silent()
