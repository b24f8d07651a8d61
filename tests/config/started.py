"""A helmroom that a test has started as ``make run`` does, on a data folder of its own."""

from __future__ import annotations

import contextlib
import http.cookiejar
import json
import os
import random
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import urllib.parse
import urllib.request
from contextlib import closing
from pathlib import Path

import psutil
from django.conf import settings

from tests.patience import LONGEST_S, until

#: Under those that a system gives out by itself (Linux from 32768, macOS and Windows from 49152; RFC 6335 too): what is
#: free there now is not taken by somebody's connection before a server on a busy machine gets to it.
PORTS = range(10_240, 32_000)


def free_port() -> int:
    while True:
        port = random.SystemRandom().choice(PORTS)
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port


class Started:
    """``manage.py start`` with a stand-in for compiling, and somebody at a browser."""

    def __init__(self, folder: Path, *arguments: str, **env: str) -> None:
        self.folder, self.port = folder, free_port()
        self.hold = folder / "hold"  # while it is there, compiling does not come to its end
        self.said_file = folder / "said.txt"
        environment = os.environ | {
            "DJANGO_SETTINGS_MODULE": "tests.config.start_settings",
            "HELMROOM_DATA": str(folder),
            "HELMROOM_PORT": str(self.port),
            "HELMROOM_BIND": "127.0.0.1",
            "HELMROOM_BROKER": "embedded",
            "HELMROOM_TEST_HOLD": str(self.hold),
            "NUMBA_CACHE_DIR": str(folder / "numba"),
            **env,
        }
        environment.pop("DATABASE_URL", None)
        self.process = subprocess.Popen(
            [sys.executable, str(settings.BASE_DIR / "manage.py"), "start", *arguments],
            env=environment,
            stdout=self.said_file.open("ab"),
            stderr=subprocess.STDOUT,
        )
        cookies = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
        self.browser = urllib.request.build_opener(cookies)

    @property
    def said(self) -> str:
        return self.said_file.read_text()

    def get(self, path: str = "/") -> str:
        with self.browser.open(f"http://127.0.0.1:{self.port}{path}", timeout=LONGEST_S) as answer:
            return str(answer.read().decode())

    def post(self, path: str, **data: str) -> str:
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', self.get(path))
        assert token, f"no form at {path}"
        body = urllib.parse.urlencode({"csrfmiddlewaretoken": token[1], **data}).encode()
        with self.browser.open(f"http://127.0.0.1:{self.port}{path}", data=body, timeout=LONGEST_S) as answer:
            return str(answer.read().decode())

    def page_once_it_serves(self, path: str = "/") -> str:
        """Empty while it does not serve yet. One that has ended never will."""
        assert self.process.poll() is None, self.said
        try:
            return self.get(path)
        except OSError:
            return ""

    def first_page(self) -> str:
        return str(until(self.page_once_it_serves, "the first page"))

    def sign_in(self) -> str:
        """As the demonstration's lead coach, once it is made; the board."""
        sign_ins = self.folder / "demo.json"
        until(sign_ins.exists, "the demonstration")
        demo = json.loads(sign_ins.read_text())
        return self.post("/account/sign-in/", login=demo["coach_email"], password=demo["coach_password"])

    def children(self) -> list[psutil.Process]:
        return psutil.Process(self.process.pid).children(recursive=True)

    def count(self, table: str) -> int:
        """Rows in the database, 0 before it is there."""
        try:
            with closing(sqlite3.connect(f"file:{self.folder}/helmroom.sqlite3?mode=ro", uri=True)) as database:
                return int(database.execute(f"select count(*) from {table}").fetchone()[0])
        except sqlite3.OperationalError:
            return 0

    def kill_all(self) -> None:
        """As a power cut would: the parent first, so that it can tell nobody."""
        children = self.children()
        self.process.kill()
        self.process.wait()
        for child in children:
            if child.is_running():
                child.kill()
        psutil.wait_procs(children, timeout=LONGEST_S)

    def press_ctrl_c(self) -> list[psutil.Process]:
        """End it in order; which of its processes are left."""
        children = self.children()
        self.process.send_signal(signal.SIGINT)
        self.process.wait(LONGEST_S)
        _, left = psutil.wait_procs(children, timeout=LONGEST_S)
        return list(left)

    def close(self) -> None:
        if self.process.poll() is None:
            self.kill_all()
