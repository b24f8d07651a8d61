"""A server whose PostgreSQL is away says so within three seconds, and is well again by itself."""

from __future__ import annotations

import json
import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.config.test_server_settings import run


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
browser.cookies["sessionid"] = "x" * 32
def ask():
    began = time.monotonic()
    answer = browser.get(page, secure=True)
    took_s = time.monotonic() - began
    said = [answer.status_code, took_s, answer.headers.get("Retry-After"), answer.content.decode()]
    print(json.dumps(said), flush=True)
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
    done = run("-c", ASK + "ask()", tmp_path=tmp_path, HELMROOM_POOL=pool, DATABASE_URL=away)
    status, took_s, retry_after, page = json.loads(done.stdout.splitlines()[-1])
    assert (status, retry_after) == (503, "5"), done.stderr
    assert "cannot be reached just now" in page
    assert took_s < most_s()
    assert "Traceback" not in done.stderr
