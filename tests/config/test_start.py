"""One command on a laptop: it starts all of it, says where, and ends all of it."""

from __future__ import annotations

import signal
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from config.process.addresses import NoPortError, listen
from config.process.lock import AlreadyRunningError, FolderLock
from tests.config.started import Started, free_port
from tests.patience import LONGEST_S, until


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., Started]]:
    """``start("--no-demo")`` starts helmroom on the test's folder; whatever is left of it at the end is ended."""
    started: list[Started] = []

    def begin(*arguments: str) -> Started:
        started.append(Started(tmp_path, *arguments))
        return started[-1]

    yield begin
    for one in started:
        one.close()


@pytest.mark.slow
def test_start_serves_refuses_a_second_and_ends_with_all_its_children(start, tmp_path):
    site = start("--no-demo")
    site.first_page()
    second = start("--no-demo")
    assert second.process.wait(LONGEST_S) == 1
    assert f"already running on this data at http://127.0.0.1:{site.port}/" in " ".join(second.said.split())
    until(site.children, "the worker")
    assert site.press_ctrl_c() == []
    assert site.process.returncode == 0
    assert f"http://127.0.0.1:{site.port}/" in site.said
    assert "helmroom has ended" in site.said
    assert "Traceback" not in site.said


@pytest.mark.slow
def test_the_site_answers_while_the_demonstration_is_made_and_the_kernels_compile(start, tmp_path):
    (tmp_path / "hold").touch()
    site = start()
    site.first_page()
    board = site.sign_in()
    assert "Curlew" in board
    assert not (tmp_path / "warm.stamp").exists(), "compiling has not come to its end"
    for words in ("helmroom is running", "coach@saltmarsh.example", f"at http://127.0.0.1:{site.port}/team/"):
        assert words in site.said
    until(lambda: "9 of 10" in site.post("/teams/1/tiers/2/course/", aim="fastest", alternatives="1"), "the bar")
    waiting = site.post("/teams/1/tiers/2/course/", aim="fastest", alternatives="1")
    assert "The planner is getting ready" in waiting
    assert "waits in the queue" in waiting
    assert site.count("planning_job") == 1, "the same question is asked once"
    assert site.press_ctrl_c() == [], "what compiles ends with the rest"
    assert site.process.returncode == 0
    assert "Traceback" not in site.said


@pytest.mark.slow
def test_a_power_cut_while_the_demonstration_is_made_leaves_nothing_half_made(start, tmp_path):
    hold = tmp_path / "hold-term"
    hold.touch()
    site = start()
    until(lambda: "is being made" in site.page_once_it_serves("/account/sign-in/"), "the page that says so")
    until(lambda: site.count("missions_attempt") > 10, "some of the term")
    site.kill_all()
    assert not (tmp_path / "demo.json").exists()
    half = site.count("missions_attempt")
    hold.unlink()
    again = start()
    board = again.sign_in()
    assert "Curlew" in board
    assert again.count("classroom_club") == 1
    assert again.count("classroom_user") == 2
    assert again.count("missions_attempt") > half
    assert "is being made" not in again.get("/account/sign-in/")


@pytest.mark.slow
def test_a_terminated_start_ends_what_compiles(start, tmp_path):
    (tmp_path / "hold").touch()
    site = start("--no-demo")
    until((tmp_path / "warm.json").exists, "compiling to begin")
    children = until(site.children, "what compiles")
    site.process.send_signal(signal.SIGTERM)
    site.process.wait(LONGEST_S)
    until(lambda: not any(child.is_running() for child in children), "what compiles to end")


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_start_that_is_ended_where_python_drops_exceptions_ends_all_the_same(start, tmp_path, number):
    hold = tmp_path / "hold-callback"
    hold.touch()
    site = start("--no-demo")
    until(hold.with_suffix(".begun").exists, "the callback")
    site.process.send_signal(number)
    until(lambda: "Exception ignored" in site.said, "the exception to be dropped")
    hold.unlink()
    site.process.wait(LONGEST_S)
    assert site.process.returncode == 0
    assert "helmroom has ended" in site.said


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
