"""Telling a PostgreSQL that hangs from one that has long to do.

One that hangs (its machine stands still, or all its processes do) still takes connections, and what is asked of it is confirmed
by its kernel: neither a limit of the server's own nor one of TCP ends the wait. So whoever has heard nothing for a moment knocks
at the door beside, and goes on waiting only when something answers there.
"""

from __future__ import annotations

import socket
import struct
import time
from collections.abc import Callable, Generator
from typing import Any, TypeVar

import psycopg
from psycopg.abc import PQGen

#: So long nothing may be heard before it is asked whether anybody is there.
SILENT_S = 0.7
#: So long the door has to answer.
KNOCK_S = 0.8
#: So long what one knock found holds for all; together they stay within the three seconds in which somebody is to read words.
HOLDS_S = 1.0
#: SSLRequest (PostgreSQL's documentation, "Message Formats"): the first thing that may be said, answered with one letter.
SSL_REQUEST = struct.pack("!ii", 8, 80877103)

T = TypeVar("T")
_unanswered_at = float("-inf")


class SilentError(psycopg.OperationalError):
    """Nobody answers."""


def lately_silent() -> bool:
    """Whether a knock was not answered just now."""
    return time.monotonic() - _unanswered_at < HOLDS_S


def answers(host: str, port: int) -> bool:
    """Whether somebody opens at the door, a port or a socket in a folder."""
    global _unanswered_at
    if lately_silent():
        return False
    try:
        with _line_to(host, port) as line:
            line.sendall(SSL_REQUEST)
            if line.recv(1):
                return True
    except OSError:
        pass
    _unanswered_at = time.monotonic()
    return False


def _line_to(host: str, port: int) -> socket.socket:
    if not host.startswith("/"):
        return socket.create_connection((host, port), timeout=KNOCK_S)
    line = socket.socket(socket.AF_UNIX)
    line.settimeout(KNOCK_S)
    line.connect(f"{host}/.s.PGSQL.{port}")
    return line


def watched(gen: PQGen[T], still_there: Callable[[], bool]) -> Generator[Any, Any, T]:
    """What waits for an answer, told now and then that nothing has come: then it is asked whether anybody is there.

    Raises
    ------
    SilentError
    """
    try:
        wanted = next(gen)
        heard = time.monotonic()
        while True:
            ready = yield wanted
            if ready:
                heard = time.monotonic()
            elif time.monotonic() - heard > SILENT_S:
                if not still_there():
                    raise SilentError("PostgreSQL takes what it is asked and does not answer.")
                heard = time.monotonic()
            wanted = gen.send(ready)
    except StopIteration as end:
        return end.value


class WatchedConnection(psycopg.Connection[Any]):
    """It is closed when nobody answers: what its server still says would be taken for an answer to something else."""

    def wait(self, gen: PQGen[T], *args: Any, **options: Any) -> T:
        try:
            return super().wait(watched(gen, self._is_answered), *args, **options)
        except SilentError:
            self.pgconn.finish()
            raise

    def _is_answered(self) -> bool:
        return answers(self.pgconn.host.decode(), int(self.pgconn.port))
