"""Whether a server that a test needs is there."""

from __future__ import annotations

import socket
from urllib.parse import urlsplit


def answers(address: str, port: int) -> bool:
    """Something listens at an address such as ``redis://127.0.0.1:6379``; ``port`` when it names none."""
    where = urlsplit(address)
    try:
        socket.create_connection((where.hostname or "127.0.0.1", where.port or port), timeout=1).close()
    except OSError:
        return False
    return True
