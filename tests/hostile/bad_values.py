"""Values that no form asks for. Chosen by a seeded generator, so that what was found once is found again.

What to try is common practice; the OWASP Web Security Testing Guide 4.2, chapter 4.7 "Input Validation Testing", lists the
injections. The bytes are ours.
"""

from __future__ import annotations

import json
from random import Random
from typing import Any

INJECTIONS = [
    "' OR '1'='1' --",
    "1; DROP TABLE classroom_team; --",
    '"><script>alert(1)</script>',
    "{{ 7|add:7 }}{% debug %}",
    "../../../etc/passwd",
    "=1+1",
    "Kit\r\nSet-Cookie: a=b",
    "%s%s%n {0.__class__} ${7*7}",
    "https://elsewhere.example/",
    "//elsewhere.example/",
]
CONTROL = [
    "\x00",
    "Kit\x00 3",
    "\x1b[2J\x1b[31mred",
    "\x08\x7f\x9b",
    "\ufeff\u200b",
    "\u202eabc\u202c",
    "a\u0300" * 40,
    "\ufffe",
    "\U0001f9ff",
]
NUMBERS = [
    "-1", "0", "9" * 18, str(2**31), str(2**63), "9" * 400, "1e308", "1e999", "-1e-999", "nan", "inf", "-Infinity",
    "1.5", "1,5", "0x10", "1_000", "٣", "²", "½", " 7 ", "+7", "--7", "7;8", "1e5", "0.0000001",
]  # fmt: skip
TIMES = [
    "2026-02-30", "0000-00-00", "0001-01-01", "9999-12-31", "10000-01-01", "2026-11-18T25:61", "24:00", "-1:00", "16:00:60",
    "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "2026-W53-7", "2026-11-18T16:00:00", "2026-03-29T01:30",
]  # fmt: skip
SHAPES = [
    "null", "[]", "{}", "[null]", '"x"', "1", "true", "[[[]]]", '{"a": 1', "[1e999]", '{"__proto__": {}}', '"\\ud800"', '["\\u0000"]',
    "[" * 20_000, '{"a":' * 20_000, "[" * 500 + "]" * 500, "1" * 5000, '{"a": 1, "a": 2}', "NaN",
]  # fmt: skip
LONG = ["x" * 300, "y" * 20_000, "é" * 120_000, "word " * 2000, "\n" * 3000]
MISSING = object()

_LEAVES: list[Any] = [
    None, [], {}, "", "x", True, 0, -1, 1e308, float("nan"), float("inf"), 10**400, 2**63, [None], [[]], {"a": []},
    "\ud800", "\x00", "y" * 5000, [0] * 3000, [[0, 0]] * 500,
]  # fmt: skip


def bad_value(random: Random, usual: str, foreign: list[str]) -> Any:
    """A value in a field's place: text, a list for a repeated field, or ``MISSING``.

    ``usual`` is what stands in it; ``foreign`` are keys of rows of another club.
    """
    kinds: list[Any] = [INJECTIONS, CONTROL, NUMBERS, TIMES, SHAPES, LONG, foreign, "missing", "twice", "joined"]
    if usual[:1] in ("[", "{"):
        kinds += ["twisted"] * len(kinds)
    kind = random.choice(kinds)
    if kind == "missing":
        return MISSING
    if kind == "twice":
        return [usual, random.choice(random.choice([INJECTIONS, CONTROL, NUMBERS, foreign]))]
    if kind == "joined":
        return usual + random.choice(random.choice([INJECTIONS, CONTROL, NUMBERS]))
    if kind == "twisted":
        return twisted(random, usual)
    return random.choice(kind)


def twisted(random: Random, document: str) -> str:
    """A JSON document with one of its values, or one of its keys, changed into what does not belong there."""
    try:
        whole = json.loads(document)
    except ValueError:
        return document + "]"
    places = list(_places(whole))
    if not places:
        return json.dumps(random.choice(_LEAVES))
    holder, key = random.choice(places)
    if isinstance(holder, dict) and random.random() < 0.15:
        del holder[key]
    else:
        holder[key] = random.choice(_LEAVES)
    return json.dumps(whole)


def _places(value: Any) -> Any:
    if isinstance(value, dict | list):
        for key, below in list(value.items()) if isinstance(value, dict) else list(enumerate(value)):
            yield value, key
            yield from _places(below)
