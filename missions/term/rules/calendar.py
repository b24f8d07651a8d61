"""Sessions as an iCalendar feed (RFC 5545). Pure: plain values in, text out.

Moments are written in UTC ("form #2" of section 3.3.5), so that no time-zone table has to be sent and a change of clocks
in between shifts nothing; a calendar program shows them in its reader's zone.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

_MOST_OCTETS = 75


@dataclass(frozen=True)
class CalendarEvent:
    """``sequence`` goes up with every change, ``changed_at`` is the last one."""

    uid: str
    starts_at: dt.datetime
    ends_at: dt.datetime
    summary: str
    description: str
    place: str
    sequence: int
    changed_at: dt.datetime
    cancelled: bool = False


def calendar_text(name: str, events: Iterable[CalendarEvent]) -> str:
    """A whole VCALENDAR with CRLF ends of line, folded and escaped."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//helmroom//term//EN",
        "CALSCALE:GREGORIAN",
        "METHOD:PUBLISH",
        f"NAME:{_escaped(name)}",  # RFC 7986, 5.1
        "REFRESH-INTERVAL;VALUE=DURATION:PT6H",  # RFC 7986, 5.7
    ]
    for event in events:
        lines += [
            "BEGIN:VEVENT",
            f"UID:{event.uid}",
            f"DTSTAMP:{_utc(event.changed_at)}",
            f"LAST-MODIFIED:{_utc(event.changed_at)}",
            f"SEQUENCE:{event.sequence}",
            f"DTSTART:{_utc(event.starts_at)}",
            f"DTEND:{_utc(event.ends_at)}",
            f"SUMMARY:{_escaped(event.summary)}",
            f"STATUS:{'CANCELLED' if event.cancelled else 'CONFIRMED'}",
        ]
        if event.description:
            lines.append(f"DESCRIPTION:{_escaped(event.description)}")
        if event.place:
            lines.append(f"LOCATION:{_escaped(event.place)}")
        lines.append("END:VEVENT")
    lines.append("END:VCALENDAR")
    return "".join(f"{folded}\r\n" for line in lines for folded in _folded(line))


def _utc(moment: dt.datetime) -> str:
    return f"{moment.astimezone(dt.UTC):%Y%m%dT%H%M%SZ}"


def _escaped(text: str) -> str:
    """TEXT of section 3.3.11; control characters other than a line's end have no place in it."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = "".join(c for c in text if c == "\n" or (ord(c) >= 32 and ord(c) != 127))
    for char in ("\\", ";", ","):
        text = text.replace(char, "\\" + char)
    return text.replace("\n", "\\n")


def _folded(line: str) -> list[str]:
    """Section 3.1: no line over 75 octets; a continuation begins with a space; no character is cut in two."""
    parts: list[str] = []
    part, octets = "", 0
    for char in line:
        size = len(char.encode())
        if octets + size > _MOST_OCTETS:
            parts.append(part)
            part, octets = " ", 1
        part += char
        octets += size
    return [*parts, part]
