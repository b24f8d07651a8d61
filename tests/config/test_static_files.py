"""Style sheets and scripts of a laptop: compressed once, with their length, and there on a full disk too."""

from __future__ import annotations

import errno
import stat
from pathlib import Path

import pytest
from django.test import Client

from config.process import static_files
from config.process.static_files import collect_static_files

COMPRESSED = {"BACKEND": "whitenoise.storage.CompressedStaticFilesStorage"}


@pytest.fixture
def laptop(settings, tmp_path):
    settings.STATIC_ROOT = tmp_path / "static"
    settings.STORAGES = settings.STORAGES | {"staticfiles": COMPRESSED}
    settings.WHITENOISE_USE_FINDERS = True
    return settings


def asked(path="/static/site/helmroom.css"):
    return Client(headers={"accept-encoding": "gzip"}).get(path)


def test_they_go_out_compressed_and_with_their_length_so_that_the_connection_stays(laptop):
    collect_static_files()
    answer = asked()
    assert answer.headers["Content-Encoding"] == "gzip"
    assert int(answer.headers["Content-Length"]) == len(b"".join(answer.streaming_content))
    assert asked("/static/site/mark.svg").headers["Content-Length"]


def test_what_a_power_cut_left_half_written_is_written_anew(laptop):
    collect_static_files()
    sheet = Path(laptop.STATIC_ROOT) / "site" / "helmroom.css"
    whole = sheet.read_bytes()
    sheet.write_bytes(whole[:100])
    collect_static_files()
    assert sheet.read_bytes() == whole


def test_they_are_their_owners_alone(laptop):
    collect_static_files()
    for path in Path(laptop.STATIC_ROOT).rglob("*"):
        assert not path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO), path


def test_on_a_full_disk_they_are_served_from_where_they_lie(laptop, monkeypatch):
    def full(*args, **more):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(static_files, "call_command", full)
    collect_static_files()
    answer = asked()
    assert answer.status_code == 200 and b"--ink" in b"".join(answer.streaming_content)
