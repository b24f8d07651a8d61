"""The laptop's queue of files, unharmed by a file that a power cut or a full disk has torn.

A message is nothing but a job's id, and the sweep sends each again; so a torn one is left out and said.
"""

from __future__ import annotations

import logging
from pathlib import Path
from queue import Empty
from typing import Any

from kombu.transport import TRANSPORT_ALIASES, filesystem

log = logging.getLogger("helmroom.queue")
_HEAD = {"delivery_tag", "delivery_info"}


class Channel(filesystem.Channel):
    def _get(self, queue: str, timeout: float | None = None) -> dict[str, Any]:
        """The library takes the file away before it reads it, so that a torn one is met once."""
        try:
            message = super()._get(queue)
        except ValueError as error:
            return self._leave_out(str(error))
        if not isinstance(message, dict) or "body" not in message:
            return self._leave_out("it holds no message")
        head = message.get("properties")
        if not isinstance(head, dict) or not set(head) >= _HEAD:
            return self._leave_out("it says nothing of where it belongs")
        return message

    def _leave_out(self, why: str) -> dict[str, Any]:
        log.warning("a torn message was left out; its job is sent again. %s", why)
        raise Empty

    def get_table(self, exchange: str) -> Any:
        self._set_aside_torn(exchange)
        return super().get_table(exchange)

    def _queue_bind(self, exchange: str, routing_key: str, pattern: str, queue: str) -> None:
        self._set_aside_torn(exchange)
        super()._queue_bind(exchange, routing_key, pattern, queue)

    def _set_aside_torn(self, exchange: str) -> None:
        """What says which queue an exchange leads to. Ours lead to the queue of their own name, so it is written anew."""
        file: Path = self._exchange_file(exchange)
        try:
            super().get_table(exchange)
        except (ValueError, TypeError) as error:
            log.warning("the torn file %s was set aside. %s", file.name, error)
            file.replace(file.with_suffix(".torn"))
            super()._queue_bind(exchange, exchange, "", exchange)


class Transport(filesystem.Transport):
    Channel = Channel


def use_for_files() -> None:
    """From now on ``filesystem://`` means this one."""
    TRANSPORT_ALIASES["filesystem"] = f"{__name__}:Transport"
