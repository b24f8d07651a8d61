"""Log lines without what opens doors: tokens in addresses, and without line breaks that forge other lines.

OWASP ASVS 5.0.0, chapter 16: log what happened in UTC, never a secret, and encode what came from outside.
"""

from __future__ import annotations

import json
import logging
import re
import time

from classroom.site.request_id import request_id

_SECRET_PATHS = re.compile(
    r"(?P<door>/+(?:family|join|calendar)/+)[A-Za-z0-9_-]{20,}"
    r"|(?P<reset>/+account/+password/+reset/+key/+)[^\s\"'/]+"
    r"|(?P<code>/+team/+)[A-Za-z0-9]{8}(?=[/\s\"'?]|$)"
    # Whatever stands before it: nothing else of ours is so long without a break.
    r"|(?P<before>[/=])[A-Za-z0-9_-]{40,}",
    re.IGNORECASE,
)
_BREAKS = {ord("\n"): "\\n", ord("\r"): "\\r", 0x2028: "\\u2028", 0x2029: "\\u2029", 0x1B: "\\x1b"}


def redacted(text: str) -> str:
    """
    >>> redacted("GET /family/AbCdEfGhIjKlMnOpQrStUvWxYz0123456789-_abcde/ 404")
    'GET /family/[left out]/ 404'
    """
    kept = _SECRET_PATHS.sub(lambda m: (m["door"] or m["reset"] or m["code"] or m["before"]) + "[left out]", text)
    return kept.translate(_BREAKS)


class RedactTokens(logging.Filter):
    """Works on the finished message, so that an argument hides nothing."""

    def filter(self, record: logging.LogRecord) -> bool:
        try:
            message = record.getMessage()
        except (TypeError, ValueError):  # a log call with wrong arguments must not break the request
            message = f"{record.msg} {record.args}"
        record.msg, record.args = redacted(message), ()
        return True


class NoTraceOfStrangers(logging.Filter):
    """What a stranger sends to be refused (too large a body, a name that is none of ours) is a line in the log, no traceback."""

    def filter(self, record: logging.LogRecord) -> bool:
        if record.name.startswith("django.security."):
            record.exc_info = None
        return True


class WaitingIsNoError(logging.Filter):
    """Whoever is asked to come again (503 with ``Retry-After``, RFC 9110, 10.2.3) has met no error: a warning, so that errors are errors."""

    def filter(self, record: logging.LogRecord) -> bool:
        if record.name == "django.request" and getattr(record, "status_code", None) == 503 and not record.exc_info:
            record.levelno, record.levelname = logging.WARNING, "WARNING"
        return True


class NameRequest(logging.Filter):
    """Gives each line the name of the request that it is about (``classroom/site/request_id.py``)."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.request_id = request_id.get() or "-"
        return True


class UtcFormatter(logging.Formatter):
    """Times in UTC with their Z; a traceback's addresses are cleaned as well."""

    converter = staticmethod(time.gmtime)
    default_time_format = "%Y-%m-%dT%H:%M:%S"
    default_msec_format = "%s.%03dZ"

    def formatException(self, ei: object) -> str:
        lines = super().formatException(ei).splitlines()  # type: ignore[arg-type]
        return "\n".join(redacted(line) for line in lines)


class JsonFormatter(UtcFormatter):
    """One object a line, for programs that gather logs."""

    def format(self, record: logging.LogRecord) -> str:
        said = {
            "at": self.formatTime(record),
            "level": record.levelname,
            "logger": record.name,
            "request_id": getattr(record, "request_id", "-"),
            "message": record.getMessage(),
        }
        if record.exc_info:
            said["traceback"] = self.formatException(record.exc_info)
        return json.dumps(said)
