"""Asking the site without a server between: the whole of what a process does for a request, and the processor time that it took."""

from __future__ import annotations

import io
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

TOKEN = "t" * 32


@dataclass(frozen=True)
class Answer:
    """``processor_s``: of the thread that answered, from the request's first header to the answer's last byte."""

    status: int
    headers: dict[str, str]
    body: bytes
    processor_s: float


@dataclass(frozen=True)
class Asker:
    """Somebody's browser, signed in."""

    application: Callable[..., Any]
    session: str
    host: str
    cookie_prefix: str = ""

    def ask(self, method: str, path: str, body: bytes = b"", content_type: str = "", **headers: str) -> Answer:
        path, _, query = path.partition("?")
        prefix = self.cookie_prefix
        environ = {
            "REQUEST_METHOD": method, "PATH_INFO": path, "QUERY_STRING": query, "SCRIPT_NAME": "",
            "SERVER_NAME": self.host, "SERVER_PORT": "443", "SERVER_PROTOCOL": "HTTP/1.1", "REMOTE_ADDR": "127.0.0.1",
            "CONTENT_LENGTH": str(len(body)), "CONTENT_TYPE": content_type, "HTTP_HOST": self.host,
            "HTTP_COOKIE": f"{prefix}sessionid={self.session}; {prefix}csrftoken={TOKEN}", "HTTP_X_CSRFTOKEN": TOKEN,
            "HTTP_X_FORWARDED_PROTO": "https", "HTTP_REFERER": f"https://{self.host}/", "HTTP_ACCEPT_ENCODING": "gzip",
            "wsgi.version": (1, 0), "wsgi.url_scheme": "http", "wsgi.input": io.BytesIO(body), "wsgi.errors": sys.stderr,
            "wsgi.multithread": True, "wsgi.multiprocess": True, "wsgi.run_once": False,
            **{f"HTTP_{name}": value for name, value in headers.items()},
        }  # fmt: skip
        begun: list[Any] = []
        before = time.thread_time()
        parts = self.application(environ, lambda status, found, exc_info=None: begun.extend([status, found]))
        whole = b"".join(parts)
        if hasattr(parts, "close"):
            parts.close()
        took = time.thread_time() - before
        return Answer(int(begun[0][:3]), dict(begun[1]), whole, took)
