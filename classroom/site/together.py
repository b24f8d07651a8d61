"""A number and its unit are never parted by the end of a line, whoever wrote the sentence that they stand in."""

from __future__ import annotations

import re
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

#: What a number is followed by: signs of the International System, the inch, per cent, amounts of data.
_UNITS = "mm|cm|m|km|in|ms|s|min|h|g|kg|V|kB|MB|GB|%"
_PARTED = re.compile(rf"(\d(?:</(?:b|strong|span)>)?)\s+((?:{_UNITS})(?![\w%]))")
#: What stands in these is no text that flows: it is sent back, read by scripts, or drawn by the browser itself.
_LEFT_ALONE = re.compile(r"<(?:option|textarea|script|style|title|pre)\b")


def keep_together(page: str) -> str:
    """The page with a no-break space between numbers and units wherever text flows.

    >>> keep_together("<p>Lands 7.4 cm left</p>") == "<p>Lands 7.4\\N{NO-BREAK SPACE}cm left</p>"
    True
    >>> keep_together('<input value="3 cm">'), keep_together("<option>1 cm</option>")
    ('<input value="3 cm">', '<option>1 cm</option>')
    """

    text, *drawings = page.split("<svg")
    kept = [_joined(text)]
    for each in drawings:  # full of numbers, and no text flows in them: most of a large page, and not looked through
        drawing, end, text = each.partition("</svg>")
        kept += ["<svg", drawing, end, _joined(text)]
    return "".join(kept)


def _joined(text: str) -> str:
    def joined(found: re.Match[str]) -> str:
        tag = text.rfind("<", 0, found.start())
        inside = tag > text.rfind(">", 0, found.start())
        if inside or _LEFT_ALONE.match(text, max(tag, 0)):
            return found[0]
        return f"{found[1]}\N{NO-BREAK SPACE}{found[2]}"

    return _PARTED.sub(joined, text)


class KeepTogether:
    """Every page, and every part of one that is swapped in."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if not response.streaming and response.headers.get("Content-Type", "").startswith("text/html"):
            response.content = keep_together(response.content.decode()).encode()
        return response
