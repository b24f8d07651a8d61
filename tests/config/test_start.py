"""One command on a laptop: it starts all of it, says where, and ends all of it."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import psutil
import pytest
from django.conf import settings

from config.process.addresses import NoPortError, listen
from config.process.lock import AlreadyRunningError, FolderLock
from config.process.warm import stamp_text
from tests.patience import LONGEST_S, until


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def start(folder: Path, port: int) -> subprocess.Popen[str]:
    env = os.environ | {
        "DJANGO_SETTINGS_MODULE": "config.settings.local",
        "HELMROOM_DATA": str(folder),
        "HELMROOM_PORT": str(port),
        "HELMROOM_BIND": "127.0.0.1",
        "HELMROOM_BROKER": "embedded",
    }
    env.pop("DATABASE_URL", None)
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "start", "--no-demo"]
    return subprocess.Popen(command, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)


def first_page(port: int) -> int:
    def look() -> int:
        with contextlib.suppress(OSError):
            return int(urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=LONGEST_S).status)
        return 0

    return until(look, "the first page")


@pytest.mark.slow
def test_start_serves_refuses_a_second_and_ends_with_all_its_children(tmp_path):
    (tmp_path / "warm.stamp").write_text(stamp_text())  # compiling is another command's test
    port = free_port()
    first = start(tmp_path, port)
    try:
        assert first_page(port) == 200
        second = start(tmp_path, free_port())
        said, _ = second.communicate(timeout=LONGEST_S)
        assert second.returncode == 1
        assert f"already running on this data at http://127.0.0.1:{port}/" in said
        children = until(psutil.Process(first.pid).children, "a worker")
    finally:
        first.send_signal(signal.SIGINT)
    said, _ = first.communicate(timeout=LONGEST_S)
    assert first.returncode == 0
    assert f"http://127.0.0.1:{port}/" in said
    assert "helmroom has ended" in said
    assert "Traceback" not in said
    _gone, left = psutil.wait_procs(children, timeout=LONGEST_S)
    assert left == []


def test_a_folder_is_held_by_one_and_says_by_whom(tmp_path):
    one, other = FolderLock(tmp_path), FolderLock(tmp_path)
    one.take()
    one.say("http://127.0.0.1:8000/ (process 7)")
    with pytest.raises(AlreadyRunningError) as refused:
        other.take()
    assert refused.value.words == "http://127.0.0.1:8000/ (process 7)"
    one.release()
    other.take()
    other.release()


def test_a_lock_left_by_a_killed_process_is_no_lock(tmp_path):
    (tmp_path / "helmroom.lock").touch()
    (tmp_path / "running.txt").write_text("http://127.0.0.1:8000/ (process 7)")
    lock = FolderLock(tmp_path)
    lock.take()
    lock.release()


def test_a_port_that_was_asked_for_is_taken_or_refused_in_words():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        with pytest.raises(NoPortError, match="Set HELMROOM_PORT to another"):
            listen("127.0.0.1", other.getsockname()[1])


def test_the_next_free_port_is_used_when_the_usual_one_is_taken(monkeypatch):
    monkeypatch.setattr("config.process.addresses.USUAL_PORT", free_port())
    from config.process import addresses

    with socket.socket() as other:
        other.bind(("127.0.0.1", addresses.USUAL_PORT))
        other.listen()
        sock, said = listen("127.0.0.1", None)
        with sock:
            assert sock.getsockname()[1] > addresses.USUAL_PORT
        assert said.startswith(f"Port {addresses.USUAL_PORT} is taken by another program; using ")
