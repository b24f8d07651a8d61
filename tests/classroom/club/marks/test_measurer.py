"""The process that measures pictures: what it survives, what it is refused, and that it outlives nobody."""

from __future__ import annotations

import json
import logging
import os
import signal
import socket
import subprocess
import sys
import threading
import types
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from classroom.club.marks.find import marks_in
from classroom.club.marks.measurer import NICE, ROOT, Measurer, PicturesBusyError
from classroom.errors import InputError
from motion.errors import NoCourseError
from tests.classroom.club.marks import in_the_measurer as there
from tests.patience import LONGEST_S, until

#: Each starts a process, some of them several.
pytestmark = pytest.mark.slow


@pytest.fixture
def measurer() -> Iterator[Measurer]:
    made = Measurer(LONGEST_S, LONGEST_S)
    yield made
    made.end()


def is_alive(pid: int) -> bool:
    """A process that has ended and that nobody has asked after yet is not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def refused(measurer: Measurer, function: object, *args: object) -> str:
    with pytest.raises(InputError) as found:
        measurer.ask(function, *args)  # type: ignore[arg-type]
    return str(found.value.code)


def test_it_is_started_by_the_first_question_and_stays_for_the_next(measurer: Measurer) -> None:
    assert measurer.pid is None
    first, second = (measurer.ask(there.itself)["pid"] for _ in range(2))
    assert first == second == measurer.pid != os.getpid()


def test_it_is_another_program_than_the_one_that_started_it_and_loads_no_site(measurer: Measurer) -> None:
    with pytest.raises(InputError):
        measurer.ask(marks_in, b"no picture")  # loads what pictures need
    found = measurer.ask(there.itself)
    assert found["main"] is None
    loaded = {name.split(".")[0] for name in found["modules"]}
    assert "numpy" in loaded and not loaded & {"pytest", "_pytest", "gunicorn", "waitress", "numba"}
    assert not loaded & {"config", "missions", "planning"}
    assert not [name for name in found["modules"] if name.startswith(("django.db", "django.conf"))]


def test_everything_else_goes_first_and_it_keeps_one_processor_busy_at_most(measurer: Measurer) -> None:
    found = measurer.ask(there.itself)
    assert found["nice"] == min(19, os.nice(0) + NICE)
    assert found["threads"] == 2, "one that measures and one that listens"


def test_it_can_write_no_file_and_leaves_none_when_it_crashes(
    measurer: Measurer, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    found = measurer.ask(there.itself)
    assert (found["file"], found["core"]) == ((0, 0), (0, 0))
    assert refused(measurer, there.write_a_file, str(tmp_path / "a picture")) == "not_measured"
    assert "OSError in " in caplog.text
    assert (tmp_path / "a picture").read_bytes() == b""


@pytest.mark.parametrize("trouble", [there.crash, sys.exit])
def test_who_crashes_it_is_refused_and_the_next_is_answered(measurer: Measurer, trouble: object) -> None:
    before = measurer.ask(there.itself)["pid"]
    assert refused(measurer, trouble) == "not_measured"
    after = measurer.ask(there.itself)["pid"]
    assert before != after and not is_alive(before)


def test_one_that_ended_between_two_pictures_costs_none_of_them(measurer: Measurer) -> None:
    before = measurer.ask(there.itself)["pid"]
    os.kill(before, signal.SIGKILL)
    # Its last thread too: until then nobody can know that it has ended.
    until(lambda: os.waitid(os.P_PID, before, os.WEXITED | os.WNOHANG | os.WNOWAIT), "the end of the measurer")
    assert measurer.ask(there.itself)["pid"] != before


def test_what_takes_too_long_is_ended_and_refused_in_words(measurer: Measurer) -> None:
    before = measurer.ask(there.itself)["pid"]
    measurer.longest_s = 0.5
    with pytest.raises(InputError, match="took too long") as found:
        measurer.ask(there.hang)
    assert found.value.code == "over_time" and not is_alive(before)
    measurer.longest_s = LONGEST_S
    assert measurer.ask(there.itself)["pid"] != before


def test_what_stumbles_is_refused_and_the_log_says_where_and_not_over_what(
    measurer: Measurer, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    before = measurer.ask(there.itself)["pid"]
    assert refused(measurer, there.stumble, b"taken at home") == "not_measured"
    assert "KeyError in " in caplog.text and "in_the_measurer.py" in caplog.text
    assert "taken at home" not in caplog.text
    assert measurer.ask(there.itself)["pid"] == before, "nothing was wrong with the process"


def test_what_needs_more_memory_than_a_picture_may_is_refused(measurer: Measurer) -> None:
    assert refused(measurer, there.grab, 3_000_000_000) == "not_measured"
    assert measurer.ask(there.grab, 100_000_000) == 100_000_000


def test_what_it_cannot_find_is_refused_at_once(measurer: Measurer, monkeypatch: pytest.MonkeyPatch) -> None:
    only_here = types.ModuleType("only_here")
    monkeypatch.setitem(sys.modules, "only_here", only_here)
    exec("def measure(): pass", vars(only_here))
    assert refused(measurer, only_here.measure) == "not_measured"


def test_refusals_come_back_as_they_were_said(measurer: Measurer) -> None:
    with pytest.raises(InputError) as plain:
        measurer.ask(there.refuse)
    assert (plain.value.code, plain.value.message, str(plain.value)) == (
        "moving",
        "This picture moves.",
        "This picture moves.",
    )
    with pytest.raises(NoCourseError) as more:
        measurer.ask(there.refuse_at_length)
    assert (more.value.code, more.value.message, more.value.tightest) == ("no_gap", "There is no gap.", {"gap_mm": 3.0})


def test_what_libraries_print_is_not_taken_for_an_answer(measurer: Measurer) -> None:
    assert measurer.ask(there.talk) is None
    assert measurer.ask(len, b"four") == 4


def test_a_second_picture_waits_for_the_first(measurer: Measurer, tmp_path: Path) -> None:
    ended: list[str] = []

    def picture(name: str) -> threading.Thread:
        thread = threading.Thread(target=lambda: ended.append(measurer.ask(there.wait_for, str(tmp_path), name)))
        thread.start()
        return thread

    (tmp_path / "second may end").touch()
    first = picture("first")
    until((tmp_path / "first begun").exists, "the first")
    second = picture("second")
    assert not (tmp_path / "second begun").exists()
    (tmp_path / "first may end").touch()
    for thread in (first, second):
        thread.join(LONGEST_S)
    assert ended == ["first", "second"]


def test_who_waits_too_long_is_asked_to_come_again(measurer: Measurer) -> None:
    measurer.ask(len, b"")
    measurer.longest_wait_s = 0.01
    hanging = threading.Thread(target=lambda: refused(measurer, there.hang))
    hanging.start()
    until(measurer._turn.locked, "the first")
    with pytest.raises(PicturesBusyError, match="in a moment") as found:
        measurer.ask(len, b"")
    assert (found.value.status, found.value.code) == (503, "busy")
    assert measurer.pid is not None
    os.kill(measurer.pid, signal.SIGKILL)
    hanging.join(LONGEST_S)


ALONE = """
import sys, threading, time
from classroom.club.marks.measurer import Measurer
from tests.classroom.club.marks import in_the_measurer as there
measurer = Measurer(600.0)
print(measurer.ask(there.itself)["pid"], flush=True)
if sys.argv[1] == "busy":
    threading.Thread(target=measurer.ask, args=(there.hang,), daemon=True).start()
    while not measurer._turn.locked():
        time.sleep(0.01)
    print("busy", flush=True)
sys.stdin.read()
"""


@pytest.mark.parametrize("doing", ["nothing", "busy"])
@pytest.mark.parametrize("end", [signal.SIGKILL, signal.SIGTERM])
def test_it_ends_with_the_process_that_asks_also_in_the_middle_of_a_picture(doing: str, end: signal.Signals) -> None:
    parent = subprocess.Popen(
        [sys.executable, "-c", ALONE, doing], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert parent.stdin is not None and parent.stdout is not None
    with parent.stdin, parent.stdout:
        pid = int(parent.stdout.readline())
        if doing == "busy":
            assert parent.stdout.readline() == b"busy\n"
        assert is_alive(pid)
        parent.send_signal(end)
        parent.wait()
    until(lambda: not is_alive(pid), "the end of the measurer")


@pytest.fixture
def gunicorn() -> Iterator[tuple[subprocess.Popen[bytes], str]]:
    """As a server runs it: workers that are forked from one that has loaded the site; and its address."""
    with socket.create_server(("127.0.0.1", 0)) as door:
        command = [
            "gunicorn",
            "tests.classroom.club.marks.asks_for_each",
            "--workers",
            "2",
            "--threads",
            "4",
            "--preload",
        ]
        command += ["--bind", f"fd://{door.fileno()}", "--log-level", "warning"]
        address = f"http://127.0.0.1:{door.getsockname()[1]}/"
        running = subprocess.Popen([sys.executable, "-m", *command], cwd=ROOT, pass_fds=(door.fileno(),))
        yield running, address
        running.terminate()
        running.wait(LONGEST_S)


def test_each_worker_of_gunicorn_has_one_that_ends_with_it(gunicorn: tuple[subprocess.Popen[bytes], str]) -> None:
    running, address = gunicorn
    measured_for: dict[int, int] = {}

    def ask() -> bool:
        with urllib.request.urlopen(address, timeout=LONGEST_S) as answer:
            said = json.load(answer)
        assert measured_for.setdefault(said["asked_by"], said["pid"]) == said["pid"]
        assert "gunicorn" not in said["modules"]
        return len(measured_for) == 2

    until(ask, "both workers")
    assert len(set(measured_for.values())) == 2 and running.pid not in measured_for
    worker, its_own = measured_for.popitem()
    os.kill(worker, signal.SIGKILL)
    until(lambda: not is_alive(its_own), "the end of a killed worker's measurer")
    until(ask, "another worker in its place")
    running.terminate()
    running.wait(LONGEST_S)
    for pid in measured_for.values():
        until(lambda p=pid: not is_alive(p), "the end of a worker's measurer")  # type: ignore[misc]


def test_ctrl_c_is_for_its_parent(measurer: Measurer) -> None:
    before = measurer.ask(there.itself)["pid"]
    os.kill(before, signal.SIGINT)
    assert measurer.ask(there.itself)["pid"] == before
