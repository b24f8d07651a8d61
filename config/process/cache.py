"""A shared cache that may be away: what was counted and kept there is then counted and kept in this process.

The throttle of coaches' sign-ins lives in the cache. With Redis away each process counts for itself: a guesser gets as
many tries as there are processes, and nobody is kept out.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from typing import Any

from django.core.cache.backends.locmem import LocMemCache
from django.core.cache.backends.redis import RedisCache
from redis.exceptions import RedisError

log = logging.getLogger("helmroom.cache")
#: So long nobody waits for it again once it did not answer.
PAUSE_S = 5.0
#: So long one question to it may take.
PATIENCE_S = 0.3


class CacheOrHere(RedisCache):
    """Redis while it answers, this process's own memory while it does not."""

    def __init__(self, server: str, params: dict[str, Any]) -> None:
        options = {"socket_connect_timeout": PATIENCE_S, "socket_timeout": PATIENCE_S}
        super().__init__(server, params | {"OPTIONS": options | params.get("OPTIONS", {})})
        self._here = LocMemCache("away", {})
        self._away_until = 0.0

    def _ask(self, name: str, *args: Any, **kwargs: Any) -> Any:
        if time.monotonic() >= self._away_until:
            try:
                return getattr(super(), name)(*args, **kwargs)
            except (RedisError, OSError) as error:
                self._away_until = time.monotonic() + PAUSE_S
                log.warning("the shared cache is away; each process keeps its own meanwhile. %s", error)
        return getattr(self._here, name)(*args, **kwargs)


def _asking(name: str) -> Callable[..., Any]:
    def asked(self: CacheOrHere, *args: Any, **kwargs: Any) -> Any:
        return self._ask(name, *args, **kwargs)

    return asked


for _name in (
    "add",
    "get",
    "set",
    "touch",
    "delete",
    "get_many",
    "has_key",
    "incr",
    "set_many",
    "delete_many",
    "clear",
):
    setattr(CacheOrHere, _name, _asking(_name))
