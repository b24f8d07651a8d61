"""Somebody at a browser, behind the proxy: requests go to the server's socket with the headers that nginx sets."""

from __future__ import annotations

import http.client
import re
import socket
import threading
import urllib.parse
from http.cookies import SimpleCookie
from pathlib import Path

NAME = "club.example"
#: So often each of several looks, which leaves the machine to what is typed meanwhile.
LOOK_EVERY_S = 0.25


class ToSocket(http.client.HTTPConnection):
    def __init__(self, path: Path, timeout_s: float) -> None:
        super().__init__(NAME, timeout=timeout_s)
        self._path = path

    def connect(self) -> None:
        self.sock = socket.socket(socket.AF_UNIX)
        self.sock.settimeout(self.timeout)
        self.sock.connect(str(self._path))


class Visitor:
    def __init__(self, door: Path, timeout_s: float, **cookies: str) -> None:
        self.door, self.timeout_s, self.cookies = door, timeout_s, dict(cookies)

    def ask(self, method: str, path: str, **data: str) -> tuple[int, str]:
        """Status, and the page or where it leads."""
        line = ToSocket(self.door, self.timeout_s)
        headers = {
            "X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.7", "Referer": f"https://{NAME}/",
            "Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()),
            "Content-Type": "application/x-www-form-urlencoded",
        }  # fmt: skip
        line.request(method, path, urllib.parse.urlencode(data) or None, headers)
        answer = line.getresponse()
        page = answer.read().decode()
        for cookie in answer.headers.get_all("Set-Cookie") or []:
            self.cookies |= {name: morsel.value for name, morsel in SimpleCookie(cookie).items()}
        line.close()
        return answer.status, answer.headers.get("Location") or page

    def get(self, path: str) -> str:
        """The page, wherever it leads."""
        for _ in range(5):
            status, told = self.ask("GET", path)
            if status not in (301, 302):
                break
            path = told
        assert status == 200, f"{status} {path}: {told[:2000]}"
        return told

    def post(self, form: str, to: str = "", **data: str) -> str:
        """Fill in the form of a page; the page that comes of it."""
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', self.get(form))
        assert token, f"no form at {form}"
        status, told = self.ask("POST", to or form, csrfmiddlewaretoken=token[1], **data)
        assert status == 302, f"{status} {form}: {told[:2000]}"
        return self.get(told)


class Callers:
    """Several visitors who look at a page again and again, from beginning to end; what was not answered well is kept."""

    def __init__(self, visitors: list[Visitor], path: str) -> None:
        self.well, self.wrong, self._over = 0, list[str](), threading.Event()
        self._threads = [threading.Thread(target=self._look, args=[each, path], daemon=True) for each in visitors]

    def __enter__(self) -> Callers:
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        for thread in self._threads:
            thread.join()

    def _look(self, visitor: Visitor, path: str) -> None:
        while not self._over.wait(LOOK_EVERY_S):
            try:
                status, told = visitor.ask("GET", path)
            except (OSError, http.client.HTTPException) as error:
                status, told = 0, repr(error)
            if status == 200:
                self.well += 1
            else:
                self.wrong.append(f"{status} {told[:200]}")
