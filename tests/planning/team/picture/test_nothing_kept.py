"""No picture is kept: what a hundred of them leave in files, database, log and cache is nothing."""

from __future__ import annotations

import io
import logging
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.cache import caches
from django.core.files.uploadhandler import StopUpload
from django.db import connection
from django.test import Client
from django.urls import get_resolver

from classroom.club.marks import coming_in
from classroom.club.marks.coming_in import HeldInMemory, takes_picture
from classroom.club.marks.measurer import Measurer
from config.process.bodies import MOST_BODIES, TAKES_PICTURES, Busy, ParserInMemory
from planning.team.picture import measure
from tests import factories as make
from tests.oracles.club_picture import club_picture
from tests.patience import LONGEST_S

pytestmark = pytest.mark.django_db
JSON = {"HTTP_ACCEPT": "application/json"}
ADDRESS = "/team/picture/"


@pytest.fixture
def edition(cast: Any) -> Any:
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier)
    return editions[1]


def as_file(data: bytes) -> io.BytesIO:
    found = io.BytesIO(data)
    found.name = "IMG_of_a_heron at home.jpg"
    return found


def with_data_of_a_camera(data: bytes) -> bytes:
    """As phones write it: a place and a maker, and a comment that is easy to find."""
    comment = b"\xff\xfe" + (2 + len(SECRET)).to_bytes(2) + SECRET
    return data[:2] + comment + data[2:]


SECRET = b"taken-at-51.4934N-by-a-camera-of-somebody"


def files_below(*folders: Path) -> dict[str, int]:
    return {str(path): path.stat().st_mtime_ns for folder in folders for path in folder.rglob("*") if path.is_file()}


def files_with(secret: bytes, names: list[str]) -> list[str]:
    """Looked for by another process: closing SQLite's file would end this one's locks on it (sqlite.org/howtocorrupt.html, 2.2)."""
    look = """import os, sys
for name in sys.argv[2:]:
    if os.path.exists(name) and sys.argv[1].encode() in open(name, 'rb').read():
        print(name)"""
    return subprocess.run(
        [sys.executable, "-c", look, secret.decode(), *names], check=True, capture_output=True, text=True
    ).stdout.split()


def open_files(measurer: Measurer) -> set[str]:
    """Of this process, and of the one that measures."""
    found = set()
    for process in ("self", measurer.pid):
        for handle in Path(f"/proc/{process}/fd").iterdir():
            try:
                found.add(str(handle.readlink()))
            except OSError:
                continue
    return {name for name in found if name.startswith("/")}


def written_by(measurer: Measurer) -> tuple[int, int]:
    """Bytes that it wrote anywhere, and those of them that went to a disk, as the kernel counts them (proc(5))."""
    counted = dict(line.split(": ") for line in Path(f"/proc/{measurer.pid}/io").read_text().splitlines())
    return int(counted["wchar"]), int(counted["write_bytes"])


def everything_in_the_database() -> str:
    said = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')
            said.append(f"{table}: {cursor.fetchall()!r}")
    return "\n".join(said)


@pytest.mark.slow
def test_a_hundred_pictures_leave_nothing_behind(
    cast: Any, edition: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: Any
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    made: list[Any] = []
    for name in ("TemporaryFile", "NamedTemporaryFile", "SpooledTemporaryFile", "mkstemp"):
        monkeypatch.setattr(tempfile, name, lambda *args, **more: made.append(args))
    caplog.set_level(logging.DEBUG)
    data = with_data_of_a_camera(club_picture(cast.club, size_px=(1280, 960)).data)
    data += bytes(3_000_000 - len(data)) if len(data) < 3_000_000 else b""  # Django would put this into a file
    broken = with_data_of_a_camera(b"\xff\xd8\xff" + bytes(3_000_000))
    data_folder = Path(settings.DATA_DIR)
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    measurer = Measurer(LONGEST_S, LONGEST_S)
    monkeypatch.setattr(measure, "measurer", measurer)
    before, rows = files_below(data_folder, tmp_path), everything_in_the_database()
    cast.as_team_a.post(ADDRESS, {"picture": as_file(data)}, **JSON)  # libraries open their files once
    opened, written = open_files(measurer), written_by(measurer)
    for i in range(100):
        answer = cast.as_team_a.post(ADDRESS, {"picture": as_file(broken if i % 4 == 3 else data)}, **JSON)
        assert answer.status_code == (422 if i % 4 == 3 else 200)
        assert open_files(measurer) <= opened
    answers, to_disk = (now - before for now, before in zip(written_by(measurer), written, strict=True))
    assert to_disk == 0 and answers < len(data), "a hundred answers together are less than one picture"
    measurer.end()
    assert made == []
    after = files_below(data_folder, tmp_path)
    changed = {name for name in after if after[name] != before.get(name)}
    assert {name for name in changed if "sqlite3" not in name} == set(), "the database is searched below"
    now = everything_in_the_database()
    assert len(now) - len(rows) < 2000 and "IMG_of_a_heron" not in now and SECRET.decode() not in now
    assert files_with(SECRET, list(after)) == []
    assert "IMG_of_a_heron" not in caplog.text and SECRET.decode() not in caplog.text
    assert all(SECRET not in repr(getattr(cache, "_cache", {})).encode() for cache in caches.all())


def test_a_file_larger_than_memory_has_room_for_is_dropped_as_it_comes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(coming_in, "MOST_BYTES", 1000)
    handler = HeldInMemory()
    handler.new_file("picture", "a.jpg", "image/jpeg", 0)
    handler.receive_data_chunk(bytes(900), 0)
    with pytest.raises(StopUpload):
        handler.receive_data_chunk(bytes(900), 900)
    assert handler.trouble is not None and handler.trouble.code == "too_big"


def test_a_picture_that_trickles_in_is_given_up() -> None:
    moments = iter([0.0, 1.0, 41.0])
    handler = HeldInMemory(clock=lambda: next(moments))
    handler.new_file("picture", "a.jpg", "image/jpeg", 0)
    handler.receive_data_chunk(b"1", 0)
    with pytest.raises(StopUpload):
        handler.receive_data_chunk(b"2", 1)
    assert handler.trouble is not None and handler.trouble.code == "too_slow"


def test_a_form_that_says_it_is_too_large_is_refused_unread(cast: Any, edition: Any) -> None:
    answer = cast.as_team_a.post(ADDRESS, {"picture": as_file(bytes(30_000_000))}, **JSON)
    assert (answer.status_code, answer.json()["code"]) == (413, "too_big")


def test_of_fifty_at_once_those_beyond_the_places_are_asked_to_wait(cast: Any, edition: Any) -> None:
    begun, ended = threading.Semaphore(0), threading.Event()

    def slow(request: Any) -> Any:
        begun.release()
        ended.wait(30)
        from django.http import HttpResponse

        return HttpResponse("done")

    view = takes_picture(slow)

    def post() -> Any:
        from django.test import RequestFactory

        request = RequestFactory().post(ADDRESS, {}, **JSON)
        request._dont_enforce_csrf_checks = True  # type: ignore[attr-defined]
        return view(request)

    threads = [threading.Thread(target=post) for _ in range(coming_in.MOST_AT_ONCE)]
    for thread in threads:
        thread.start()
    for _ in threads:
        assert begun.acquire(timeout=30)
    try:
        answers = [post() for _ in range(50 - len(threads))]
    finally:
        ended.set()
        for thread in threads:
            thread.join()
    assert {answer.status_code for answer in answers} == {503}
    assert {answer.headers["Retry-After"] for answer in answers} == {str(coming_in.AGAIN_S)}
    assert b"being measured" in answers[0].content
    assert cast.as_team_a.post(ADDRESS, {}, **JSON).status_code == 422, "places are free again"


def test_a_server_takes_pictures_over_https_only(cast: Any, edition: Any, settings: Any) -> None:
    settings.HELMROOM_MODE = "server"
    data = club_picture(cast.club).data
    plain = cast.as_team_a.post(ADDRESS, {"picture": as_file(data)}, **JSON)
    assert (plain.status_code, plain.json()["code"]) == (403, "not_secure")
    assert cast.as_team_a.post(ADDRESS, {"picture": as_file(data)}, secure=True, **JSON).status_code == 200


def test_a_form_of_another_site_is_refused(cast: Any, edition: Any) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = cast.as_team_a.cookies
    answer = strict.post(ADDRESS, {"picture": as_file(b"x")})
    assert answer.status_code == 403 and b"grown too old" in answer.content


def test_the_laptops_server_knows_every_address_that_takes_a_picture() -> None:
    def routes(patterns: Any, before: str = "/") -> Any:
        for each in patterns:
            if hasattr(each, "url_patterns"):
                yield from routes(each.url_patterns, before + str(each.pattern))
            else:
                yield before + str(each.pattern), each.callback

    taking = [
        route
        for route, view in routes(get_resolver().url_patterns)
        if view.__module__.startswith("planning.team.picture.")
    ]
    assert len(taking) == 5 and all(TAKES_PICTURES.match(route) for route in taking)


def parser(path: str, length: int) -> ParserInMemory:
    from waitress.adjustments import Adjustments

    made = ParserInMemory(Adjustments())
    made.received(f"POST {path} HTTP/1.1\r\nHost: here\r\nContent-Length: {length}\r\n\r\n".encode())
    return made


def test_the_laptops_server_puts_a_picture_that_comes_into_no_file() -> None:
    ordinary, picture = parser("/settings/", 3_000_000), parser(ADDRESS, 3_000_000)
    for each in (ordinary, picture):
        for _ in range(3):
            each.received(bytes(1_000_000))
        assert each.completed and each.error is None
    assert ordinary.body_rcv.getbuf().overflowed, "the rest of the site goes on as before"
    assert not picture.body_rcv.getbuf().overflowed
    assert len(picture.get_body_stream().read()) == 3_000_000
    picture.close()


def test_the_laptops_server_holds_few_pictures_that_come_at_once() -> None:
    held = [parser(ADDRESS, 5_000_000) for _ in range(MOST_BODIES)]
    late = parser(ADDRESS, 5_000_000)
    assert isinstance(late.error, Busy) and ("Retry-After", "3") in late.error.to_response()[1]
    held.pop().close()
    assert parser(ADDRESS, 5_000_000).error is None
    assert parser(ADDRESS, 50_000_000).error.code == 413
    for each in held:
        each.close()
