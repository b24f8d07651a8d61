"""A laptop's web server holds a picture that is being sent in memory, and few at once.

Waitress puts the body of a request over half a megabyte into a temporary file. A picture is written nowhere, not even
there: bodies sent to the addresses that take pictures stay in memory, are bounded by what those addresses take, and are
counted, so that fifty tablets at once do not fill it.
"""

from __future__ import annotations

import re
import weakref
from typing import Any, ClassVar

from waitress.buffers import OverflowableBuffer
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.receiver import FixedStreamReceiver
from waitress.server import create_server
from waitress.utilities import Error, RequestEntityTooLarge

from classroom.club.marks.coming_in import AGAIN_S, MOST_AROUND_IT
from classroom.club.marks.decode import MOST_BYTES
from config.process.ending import AskedToEnd

#: The addresses that a picture may be sent to: all of planning/team/urls.py with a view that takes one.
TAKES_PICTURES = re.compile(r"/(team/)?picture/")
#: Bodies of pictures in memory at once, being sent or waiting for a thread.
MOST_BODIES = 6


class Busy(Error):
    """Other pictures are on their way; the page asks again by itself."""

    code = 503
    reason = "Service Unavailable"

    def to_response(self, ident: Any = None) -> Any:
        status, headers, body = super().to_response(ident)
        return status, [*headers, ("Retry-After", str(AGAIN_S))], body


class ParserInMemory(HTTPRequestParser):
    """As waitress's own, but for bodies of pictures."""

    body_rcv: Any  # waitress says no types
    held: ClassVar[weakref.WeakSet[ParserInMemory]] = weakref.WeakSet()

    def parse_header(self, header_plus: bytes) -> None:
        super().parse_header(header_plus)
        if self.body_rcv is None or not TAKES_PICTURES.match(self.path):
            return
        most = MOST_BYTES + MOST_AROUND_IT
        if self.chunked or self.content_length > most:
            # What has no length said beforehand is no form of a browser's.
            self._refuse(RequestEntityTooLarge("This picture is too large."))
        elif len(type(self).held) >= MOST_BODIES:
            self._refuse(Busy("Other pictures are being measured. Send it again in a moment."))
        else:
            type(self).held.add(self)
            self.body_rcv = FixedStreamReceiver(self.content_length, OverflowableBuffer(most + 1))

    def _refuse(self, error: Error) -> None:
        self.error = error
        self.completed = True
        self.body_rcv = None
        self.connection_close = True

    def close(self) -> None:
        type(self).held.discard(self)
        super().close()


class ChannelInMemory(HTTPChannel):
    parser_class = ParserInMemory


def create_site_server(application: Any, **more: Any) -> Any:
    """Waitress as the laptop runs it."""
    server = create_server(application, **more)
    server.channel_class = ChannelInMemory
    return server


def serve_until(server: Any, asked_to_end: AskedToEnd) -> None:
    """As waitress's own ``run``, which ends on an exception alone; one that was lost on its way is not waited for."""
    try:
        while server._map and not asked_to_end.is_set():
            server.asyncore.loop(server.adj.asyncore_loop_timeout, server.adj.asyncore_use_poll, server._map, count=1)
    except (SystemExit, KeyboardInterrupt):
        pass
    server.task_dispatcher.shutdown()
