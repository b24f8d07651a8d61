"""The whole site as ``make run`` starts it: how soon it answers, first and later, what it weighs, how soon it plans.

One warm site serves most figures, on a data folder of its own with the invented club in it. What an installation does
once, making that club and compiling the kernels, goes on beside a cold site, which has figures of its own.
"""

from __future__ import annotations

import atexit
import functools
import http.cookiejar
import json
import os
import re
import resource
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable
from pathlib import Path

import psutil

from benchmarks.figures import Figure, percentile

ROOT = Path(__file__).resolve().parent.parent
LONGEST_S = 600.0


class Site:
    """A started helmroom and a coach's browser, as far as one is needed."""

    def __init__(self, **env: str) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="helmroom-bench-"))
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.env = os.environ | {
            "HELMROOM_DATA": str(self.folder),
            "HELMROOM_PORT": str(self.port),
            "HELMROOM_BIND": "127.0.0.1",
            "DJANGO_SETTINGS_MODULE": "config.settings.local",
            **env,
        }
        self.process: subprocess.Popen[bytes] | None = None
        cookies = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
        self.browser = urllib.request.build_opener(cookies)
        atexit.register(self.close)

    def start(self) -> float:
        """``make run``, and the seconds until the first page is there."""
        begun = time.perf_counter()
        self.process = subprocess.Popen(
            ["make", "--no-print-directory", "run"],
            cwd=ROOT,
            env=self.env,
            stdout=subprocess.DEVNULL,
            stderr=(self.folder / "log.txt").open("ab"),
            start_new_session=True,
        )
        until(self._answers, "the first page")
        return time.perf_counter() - begun

    def _answers(self) -> bool:
        assert self.process is not None
        if self.process.poll() is not None:
            raise RuntimeError(f"make run ended: {(self.folder / 'log.txt').read_text()[-500:]}")
        try:
            return urllib.request.urlopen(f"http://127.0.0.1:{self.port}/", timeout=5).status == 200
        except OSError:
            return False

    def stop(self) -> None:
        if self.process is not None:
            for child in psutil.Process(self.process.pid).children():
                child.send_signal(signal.SIGTERM)
            self.process.wait(30)
            self.process = None

    def close(self) -> None:
        self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    def get(self, path: str) -> str:
        with self.browser.open(f"http://127.0.0.1:{self.port}{path}", timeout=30) as answer:
            return str(answer.read().decode())

    def post(self, path: str, **data: str) -> tuple[str, str]:
        """Where it led, and the page there. The form is fetched first, for its token."""
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', self.get(path))
        assert token, f"no form at {path}"
        body = urllib.parse.urlencode({"csrfmiddlewaretoken": token[1], **data}).encode()
        with self.browser.open(f"http://127.0.0.1:{self.port}{path}", data=body, timeout=30) as answer:
            return str(answer.geturl()), str(answer.read().decode())

    def sign_in(self) -> None:
        demo = json.loads((self.folder / "demo.json").read_text())
        self.post("/account/sign-in/", login=demo["coach_email"], password=demo["coach_password"])

    def has(self, name: str) -> bool:
        """Whether a file is in the data folder."""
        return (self.folder / name).exists()

    def tree(self) -> list[psutil.Process]:
        assert self.process is not None
        return psutil.Process(self.process.pid).children(recursive=True)


def until(look: Callable[[], bool], what: str, every_s: float = 0.05) -> None:
    ends = time.monotonic() + LONGEST_S
    while not look():
        if time.monotonic() > ends:
            raise TimeoutError(f"waited {LONGEST_S:.0f} s for {what}")
        time.sleep(every_s)


@functools.cache
def site() -> tuple[Site, float]:
    """A started site with its club, and how long its second start took."""
    one = Site()
    one.start()
    until(lambda: one.has("demo.json"), "the club")
    until(lambda: one.has("warm.stamp"), "the kernels")
    one.stop()
    seconds = one.start()
    one.sign_in()
    until(lambda: len(one.tree()) >= 2, "the worker")
    return one, seconds


def first_page() -> Figure:
    _, seconds = site()
    return Figure(seconds, "s", 10.0, "from make run to the first page, club made and kernels compiled before")


def first_page_cold() -> Figure:
    """Nothing is compiled, there is no database and no club. (The environment is installed: that is pip's time.)"""
    with tempfile.TemporaryDirectory(prefix="helmroom-cold-") as nothing_compiled:
        one = Site(NUMBA_CACHE_DIR=nothing_compiled)
        begun = time.perf_counter()
        seconds = one.start()
        until(lambda: one.has("demo.json"), "the club")
        one.sign_in()
        board = time.perf_counter() - begun
        compiling = not one.has("warm.stamp")
        one.close()
    note = f"from make run to the sign-in page; the club's board after {board:.1f} s"
    return Figure(seconds, "s", 15.0, f"{note}, {'while' if compiling else 'not while'} the kernels compile")


def demo_club() -> Figure:
    """Processor time of the command by itself, where nothing is compiled."""
    with tempfile.TemporaryDirectory(prefix="helmroom-cold-") as nothing_compiled:
        one = Site(NUMBA_CACHE_DIR=nothing_compiled)
        seconds = []
        for arguments in (["migrate", "-v0"], ["demo_club"]):
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            command = [sys.executable, str(ROOT / "manage.py"), *arguments]
            subprocess.run(command, env=one.env, check=True, stdout=subprocess.DEVNULL)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            seconds.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        compiled = sum(1 for _ in Path(nothing_compiled).rglob("*.nbi"))
        one.close()
    return Figure(
        seconds[-1], "s", 10.0, f"processor time, {compiled} kernels compiled for it, its process's start included"
    )


@functools.cache
def planning_times() -> tuple[float, ...]:
    """Seconds from asking for a course to its page, for three teams in a tier with an obstacle."""
    one, _ = site()
    times = []
    for team in (1, 2, 3):
        begun = time.perf_counter()
        where, page = one.post(f"/teams/{team}/tiers/2/course/", aim="steadiest", alternatives="1")
        path = urllib.parse.urlparse(where).path
        while 'class="num legs"' not in page:
            if "No course" in page:
                raise RuntimeError(f"no course for team {team}")
            time.sleep(0.05)
            page = one.get(path)
        times.append(time.perf_counter() - begun)
    return tuple(times)


def course() -> Figure:
    times = planning_times()
    listed = ", ".join(f"{each:.2f}" for each in times)
    return Figure(
        percentile(list(times), 0.5),
        "s",
        2.0,
        f"median of three teams ({listed}) in Tide gate with obstacle, steadiest",
    )


def memory() -> Figure:
    """After the board, three plannings and a course page: proportional set size, so that shared pages count once."""
    one, _ = site()
    planning_times()
    one.get("/")
    processes = one.tree()
    shares = [process.memory_full_info() for process in processes]
    if sys.platform == "linux":
        value, how = sum(each.pss for each in shares) / 1e6, "proportional set size, shared pages counted once"
    else:
        value, how = sum(each.rss for each in shares) / 1e6, "resident set size"
    resident = sum(each.rss for each in shares) / 1e6
    return Figure(value, "MB", 600.0, f"{len(shares)} processes, {how}; plain sum of resident sizes {resident:.0f} MB")


FIGURES = {
    "foundation.first_page": first_page,
    "foundation.first_page_cold": first_page_cold,
    "foundation.demo_club": demo_club,
    "foundation.course_found": course,
    "foundation.tree_memory": memory,
}
