"""A name for each request, which its log lines and its answer carry, so that one leads to the other."""

from __future__ import annotations

import secrets
from contextvars import ContextVar

#: Of the request that this thread is answering; empty between requests.
request_id: ContextVar[str] = ContextVar("request_id", default="")


def new_request_id() -> str:
    """Our own: one that came with the request could forge lines or name another's."""
    return secrets.token_hex(8)
