"""Requests that break the protocol or lie: a name, a header, a cookie, a body. Each is refused or read over; none breaks a page.

Where the refusal is asked for by a standard, it stands beside the test: RFC 9110 (HTTP semantics), RFC 9112 (HTTP/1.1).
"""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Iterator
from typing import Any
from urllib.parse import unquote_to_bytes

import pytest
from django.core.wsgi import get_wsgi_application
from django.db import connections
from django.test import Client
from waitress import wasyncore
from waitress.server import create_server

from config.management.commands.start import THREADS
from tests.pages import page_of
from tests.patience import LONGEST_S

DOORS = ["/", "/team/", "/account/sign-in/", "/team/runs/", "/health/"]
HOSTS = [
    "elsewhere.example", "", "testserver@elsewhere.example", "[::1", "a" * 5000, ".",
    "testserver/../x", "testserver\t", "xn--a", "testserver\\elsewhere.example", "t\u00e9stserver", "\x00", "127.0.0.1.elsewhere.example",
]  # fmt: skip
HEADERS = {
    "Accept": ["*" * 9000, "application/json;q=zebra", "\x00"],
    "Accept-Language": ["*" * 9000, "en;q=9999,de;q=", "en-" * 3000, "../../etc"],
    "Accept-Encoding": ["gzip;q=abc", "br;" * 2000],
    "Authorization": ["Bearer", "Basic !!!", "Bearer \u00e9\u00ff", "\x00"],
    "Content-Type": [
        "multipart/form-data", "multipart/form-data; boundary=" + "b" * 500, "multipart/form-data; boundary=\u00e9", "text/html; charset=klingon",
        "application/x-www-form-urlencoded; charset=utf-7", "application/json; charset=utf-32", ";;;", "",
    ],
    "Content-Length": ["-1", "99999999999999999999"],
    "Cookie": [
        "sessionid=" + "x" * 8000, "sessionid=\x00", "sessionid=../../etc/passwd", "sessionid", ";;;=;", "csrftoken=;csrftoken=1;csrftoken=2",
        "messages=[[", 'messages="W1siX19qc29uX21lc3NhZ2UiLDAsMjUsIngiXV0:zz:zz"', "sessionid=\u00e9\u00ff; __Host-sessionid=\u00e9", "a=" * 3000,
        "known_browser=" + "z" * 4000, "$Version=1; sessionid=x",
    ],
    "HX-Request": ["true", "\x00"],
    "HX-Current-URL": ["javascript:alert(1)", "http://[", "\u00e9", "x" * 9000],
    "If-Modified-Since": ["yesterday", "Thu, 99 Xyz 99999 99:99:99 GMT"],
    "If-None-Match": ['"', "W/", "*", '"a"' * 3000],
    "Origin": ["null", "http://[", "\u00e9", "elsewhere.example"],
    "Range": ["bytes=9-1", "bytes=-", "lines=1"],
    "Referer": ["http://[", "//elsewhere.example", "\u00e9\x00"],
    "User-Agent": ["\u00e9" * 3000, "", "\x1b[31m"],
    "X-Forwarded-For": ["1.2.3.4, " * 500, "::ffff:1.2.3.4%eth0", "unknown", "\x00", "999.1.1.1:80"],
    "X-Forwarded-Host": ["elsewhere.example"],
    "X-Forwarded-Proto": ["https, http", "gopher"],
    "X-HTTP-Method-Override": ["DELETE"],
}  # fmt: skip
PATHS = [
    "/%00", "/%ff%fe", "/..%2f..%2fetc%2fpasswd", "/static/../manage.py", "/static/%2e%2e/%2e%2e/manage.py", "//elsewhere.example/", "/teams/" + "9" * 400 + "/",
    "/teams/%D9%A3/", "/missions/-1/", "/" + "a/" * 2000, "/family/%00/", "/team/%E2%80%AE/", "/?" + "a=b&" * 9000, "/?page=" + "9" * 400, "/account/password/reset/key/%00-%00/",
    "/calendar/%F0%9F/", "/static/site/%00.css", "/support/..;/", "/health/%0d%0aSet-Cookie:a=b",
]  # fmt: skip
METHODS = ["HEAD", "OPTIONS", "PUT", "PATCH", "DELETE", "TRACE", "PROPFIND", "get", "X" * 300]


@pytest.mark.parametrize("host", HOSTS)
def test_a_name_that_is_none_of_ours_is_refused_in_words(db: None, host: str) -> None:
    for door in DOORS[:4]:
        answer = Client(raise_request_exception=False).get(door, headers={"Host": host})
        assert answer.status_code == 400, door
        assert "That could not be read" in page_of(answer) and "elsewhere" not in page_of(answer)


@pytest.mark.parametrize("name", sorted(HEADERS))
def test_no_header_breaks_a_page(cast: Any, name: str) -> None:
    for role, door in (("nobody", "/account/sign-in/"), ("team_a", "/team/"), ("coach", "/settings/")):
        signed_in = cast.clients[role].cookies.output(attrs=[], header="", sep=";").strip()
        for value in HEADERS[name]:
            said = {"Cookie": signed_in} | {name: f"{value}; {signed_in}" if name == "Cookie" else value}
            kind = value if name == "Content-Type" else "application/x-www-form-urlencoded"
            for method in ("GET", "POST"):
                asker = Client(raise_request_exception=False)
                answer = asker.generic(method, door, b"name=%ff&code=1", kind, headers=said)
                assert answer.status_code < 500, (door, method, value[:80])


def test_no_address_breaks_a_page(cast: Any) -> None:
    for role in ("nobody", "team_a", "guardian_a", "coach"):
        client = cast.clients[role]
        client.raise_request_exception = False
        for path in PATHS:
            answer = client.generic("GET", "/", PATH_INFO=_unquoted(path), QUERY_STRING=path.partition("?")[2])
            assert answer.status_code < 500, (role, path[:60])
            assert "elsewhere" not in answer.headers.get("Location", "")


def _unquoted(path: str) -> str:
    """As a WSGI server hands it on: bytes as latin-1 (PEP 3333)."""
    return unquote_to_bytes(path.partition("?")[0]).decode("latin-1")


@pytest.mark.parametrize("method", METHODS)
def test_a_way_of_asking_that_a_page_does_not_know_is_refused(cast: Any, method: str) -> None:
    for client in (cast.as_nobody, cast.as_team_a, cast.as_coach):
        client.raise_request_exception = False
        for door in ("/", "/team/", "/team/runs/", "/today/", "/account/sign-in/"):
            assert client.generic(method, door, b"x=y").status_code < 500, door


def test_a_body_that_is_too_large_or_has_too_many_fields_is_refused_in_words(cast: Any) -> None:
    cast.as_coach.raise_request_exception = cast.as_team_a.raise_request_exception = False
    huge, many = b"name=" + b"x" * 3_000_000, b"&".join(b"a%d=b" % k for k in range(9000))
    for body in (huge, many):
        answer = cast.as_coach.generic("POST", "/settings/", body, "application/x-www-form-urlencoded")
        assert answer.status_code == 400 and "could not be read" in page_of(answer)
    answer = cast.as_team_a.generic("POST", "/team/runs/", b'{"items": [' + b"1," * 2_000_000, "application/json")
    assert answer.status_code in (400, 413) and b"Traceback" not in answer.content
    cut = b'--b\r\nContent-Disposition: form-data; name="file"; filename="a"\r\n\r\nhalf'
    for kind in ("multipart/form-data; boundary=b", "multipart/form-data"):
        assert cast.as_coach.generic("POST", "/missions/import/", cut, kind).status_code in (400, 422)
    nested = b'{"a":' * 100_000
    assert cast.as_team_a.generic("POST", "/team/runs/", nested, "application/json").status_code == 400


# ---- By hand, to the server that a laptop runs and that tablets reach without a proxy


@pytest.fixture
def laptop(transactional_db: None, settings: Any) -> Iterator[int]:
    settings.ALLOWED_HOSTS = ["*"]
    site = get_wsgi_application()

    def application(environ: Any, start: Any) -> list[bytes]:
        try:
            return list(site(environ, start))
        finally:
            connections.close_all()  # of this thread, which the test does not see

    server = create_server(application, host="127.0.0.1", port=0, threads=THREADS, ident=None)
    serving = threading.Thread(target=server.run, daemon=True)
    serving.start()
    try:
        yield server.effective_port
    finally:
        # By one side alone: an answer that is just done wakes it too, and the pipe would be closed before it is written to.
        with server.trigger.lock:
            server.trigger.thunks.append(lambda: wasyncore.close_all(server._map))
            server.trigger._physical_pull()
        serving.join(LONGEST_S)
        assert not serving.is_alive()
        server.task_dispatcher.shutdown()


RAW = {
    "no request at all": b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n",
    "a line without a version": b"GET\r\n\r\n",
    "a version that there is not": b"GET /health/ HTTP/9.9\r\nHost: x\r\n\r\n",
    # RFC 9112, 3.2: a request without a Host, or with two, is a bad one.
    "no name": b"GET / HTTP/1.1\r\n\r\n",
    "two names": b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
    "a header without an end": b"GET / HTTP/1.1\r\nHost: a\r\nX-Long: " + b"x" * 400_000,
    "a control character in a header": b"GET / HTTP/1.1\r\nHost: a\r\nX: a\x00b\r\n\r\n",
    "a header that goes on": b"GET / HTTP/1.1\r\nHost: a\r\nX: a\r\n b\r\n\r\n",
    # RFC 9112, 6.3: both lengths are a way to smuggle a request past a proxy.
    "two lengths": b"POST /team/ HTTP/1.1\r\nHost: a\r\nContent-Length: 4\r\nContent-Length: 40\r\n\r\nabcd",
    "a length and chunks": b"POST /team/ HTTP/1.1\r\nHost: a\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
    "a length below nothing": b"POST /team/ HTTP/1.1\r\nHost: a\r\nContent-Length: -1\r\n\r\n",
    "a length that is no number": b"POST /team/ HTTP/1.1\r\nHost: a\r\nContent-Length: abc\r\n\r\nabcd",
    "a chunk of no size": b"POST /team/ HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\nabc\r\n0\r\n\r\n",
    "a chunk larger than it says": b"POST /team/ HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked\r\n\r\n1\r\nabcdef\r\n0\r\n\r\n",
    "another coding": b"POST /team/ HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: gzip, chunked\r\n\r\n0\r\n\r\n",
    "chunks that are a form": b"POST /team/ HTTP/1.1\r\nHost: a\r\nContent-Type: application/x-www-form-urlencoded\r\n"
    b"Transfer-Encoding: chunked\r\n\r\n5\r\ncode=\r\n0\r\n\r\n",
    "a body that never comes": b"POST /team/ HTTP/1.1\r\nHost: a\r\nContent-Length: 900000000000\r\n\r\n",
    "an address that is another server's": b"GET http://elsewhere.example/ HTTP/1.1\r\nHost: a\r\n\r\n",
    "two requests in one": b"GET /health/ HTTP/1.1\r\nHost: a\r\n\r\nGET /health/ HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n",
}


def ask_by_hand(port: int, said: bytes) -> bytes:
    """What comes back until the other end closes; ours closes for writing, so that it need not wait for more."""
    with socket.create_connection(("127.0.0.1", port), timeout=LONGEST_S) as line:
        with contextlib.suppress(OSError):
            line.sendall(said)
            line.shutdown(socket.SHUT_WR)
        got = b""
        with contextlib.suppress(ConnectionError):
            while more := line.recv(65536):
                got += more
        return got


def test_what_breaks_the_protocol_is_refused_and_the_next_is_served(laptop: int) -> None:
    for what, said in RAW.items():
        first = ask_by_hand(laptop, said).split(b"\r\n")[0]
        assert not first.startswith((b"HTTP/1.1 500", b"HTTP/1.0 500", b"HTTP/1.1 502")), what
        if what.startswith(("no request", "a line", "two lengths", "a length", "a chunk", "a control", "another")):
            assert first.split(b" ")[1:2] in ([b"400"], [b"501"], [b"403"], [b"404"], []), (what, first)
        assert ask_by_hand(laptop, ALIVE).endswith(b"alive\n"), f"after {what}"


ALIVE = b"GET /health/ HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n"


def test_those_who_send_a_byte_and_wait_keep_nobody_else_out(laptop: int) -> None:
    """More of them than the server has threads: it hands a request to a thread once it is whole."""
    slow = [socket.create_connection(("127.0.0.1", laptop), timeout=LONGEST_S) for _ in range(6 * THREADS)]
    try:
        for k, line in enumerate(slow):
            line.sendall(
                b"POST /team/ HTTP/1.1\r\nHost: a\r\n" + (b"Content-Length: 500\r\n\r\nco" if k % 2 else b"X-A: b")
            )
        for _ in range(3):
            assert ask_by_hand(laptop, ALIVE).endswith(b"alive\n")
            for line in slow:
                line.sendall(b"x")
    finally:
        for line in slow:
            line.close()
