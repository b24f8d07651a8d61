"""What the readiness rule says, in the language of the page.

The rule speaks English, and so does what is kept of it: a row says what a decision rested on long after. Its sentences are a
closed set, so each is known again by its pattern and said in the page's own language; what is none of them stays as it is.
A test runs the rule over many records and fails where a sentence is not known again.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache, lru_cache
from typing import NamedTuple

from django.utils.translation import get_language, ngettext, override
from django.utils.translation import gettext as _

from classroom.site.figures import in_own_digits
from missions.models import Cause

#: By the number that decides; each is asked in the language that is active.
Phrase = Callable[[int], str]

_PARTS: tuple[Phrase, ...] = (
    lambda n: _("no runs yet"),
    lambda n: _("%(clean)s of the last %(of)s (%(low)s to %(high)s %%)"),
    lambda n: _("%(clean)s of the last %(of)s"),
    lambda n: ngettext("%(clean)s of %(count)s run", "%(clean)s of %(count)s runs", n),
    lambda n: ngettext("%(clean)s of the last %(count)s run", "%(clean)s of the last %(count)s runs", n),
    lambda n: _("over %(percent)s %%"),
    lambda n: _("under %(percent)s %%"),
    lambda n: ngettext(
        "%(beat)s of %(count)s run beat %(limit)s s",
        "%(beat)s of %(count)s runs beat %(limit)s s",
        n,
    ),
)
#: What ready would take; the last one goes on to the end.
_MISSING: tuple[Phrase, ...] = (
    lambda n: _("a longer spell of clean runs: over 20 in a row"),
    lambda n: ngettext("%(count)s more clean run in a row", "%(count)s more clean runs in a row", n),
    lambda n: ngettext("runs on %(count)s more date", "runs on %(count)s more dates", n),
    lambda n: ngettext("%(count)s run more since the last change", "%(count)s runs more since the last change", n),
    lambda n: _("at least three timed runs"),
    lambda n: _("faster or steadier times: so far %(times)s, by too little to be sure of the next one"),
    lambda n: _("faster or steadier times: so far %(times)s"),
)
_LANDINGS: tuple[Phrase, ...] = (
    lambda n: ngettext(
        "lands %(first)s left and %(second)s too far (%(count)s run measured)",
        "lands %(first)s left and %(second)s too far (%(count)s runs measured)",
        n,
    ),
    lambda n: ngettext(
        "lands %(first)s left and %(second)s short (%(count)s run measured)",
        "lands %(first)s left and %(second)s short (%(count)s runs measured)",
        n,
    ),
    lambda n: ngettext(
        "lands %(first)s right and %(second)s too far (%(count)s run measured)",
        "lands %(first)s right and %(second)s too far (%(count)s runs measured)",
        n,
    ),
    lambda n: ngettext(
        "lands %(first)s right and %(second)s short (%(count)s run measured)",
        "lands %(first)s right and %(second)s short (%(count)s runs measured)",
        n,
    ),
    lambda n: ngettext(
        "lands %(first)s left (%(count)s run measured)", "lands %(first)s left (%(count)s runs measured)", n
    ),
    lambda n: ngettext(
        "lands %(first)s right (%(count)s run measured)", "lands %(first)s right (%(count)s runs measured)", n
    ),
    lambda n: ngettext(
        "lands %(first)s too far (%(count)s run measured)", "lands %(first)s too far (%(count)s runs measured)", n
    ),
    lambda n: ngettext(
        "lands %(first)s short (%(count)s run measured)", "lands %(first)s short (%(count)s runs measured)", n
    ),
    lambda n: ngettext(
        "lands to no side beyond doubt (%(count)s run measured)",
        "lands to no side beyond doubt (%(count)s runs measured)",
        n,
    ),
)
_SENTENCES: tuple[Phrase, ...] = (
    lambda n: _("No runs yet."),
    lambda n: ngettext(
        "No run for %(count)s day; before that %(share)s were clean.",
        "No run for %(count)s days; before that %(share)s were clean.",
        n,
    ),
    lambda n: _(
        "Something has changed since the last run: the robot, its numbers or the program. Before that %(share)s were clean."
    ),
    lambda n: ngettext("Only %(count)s run: %(share)s clean.", "Only %(count)s runs: %(share)s clean.", n),
    lambda n: _("It went from %(clean)s of %(of)s to %(clean_later)s of the last %(of_later)s clean."),
    lambda n: _("The last miss had one cause: %(cause)s. %(share)s clean."),
    lambda n: _("The last %(of)s misses had one cause: %(cause)s. %(share)s clean."),
    lambda n: ngettext(
        "%(count)s run since the last change: %(share)s are clean, and no rise is shown yet.",
        "%(count)s runs since the last change: %(share)s are clean, and no rise is shown yet.",
        n,
    ),
    lambda n: ngettext(
        "%(count)s run: %(share)s are clean, and no rise is shown yet.",
        "%(count)s runs: %(share)s are clean, and no rise is shown yet.",
        n,
    ),
    lambda n: _(
        "%(share)s clean: %(chance)s chance that it runs clean over %(percent)s %% of the time, and %(times)s."
    ),
    lambda n: _("%(share)s clean: %(chance)s chance that it runs clean over %(percent)s %% of the time."),
    lambda n: _("%(chance)s chance that it runs clean over %(percent)s %% of the time."),
    lambda n: ngettext("Log the first of at least %(count)s run.", "Log the first of at least %(count)s runs.", n),
    lambda n: _("Ask the team what keeps it from running, and log one run."),
    lambda n: ngettext("Log %(count)s run as things are now.", "Log %(count)s runs as things are now.", n),
    lambda n: ngettext("Log %(count)s run more.", "Log %(count)s runs more.", n),
    lambda n: _("Look at what changed: battery, tyres, the table, the program."),
    lambda n: _("Change one thing that answers this cause, then run again."),
    lambda n: _("Sit with the team: measure again, simplify the course, or calibrate the robot."),
    lambda n: _("A coach opens the next tier; more misses would take this back."),
    lambda n: _("Ready would take %(missing)s."),
)
_NUMBER = r"\d[\d.]*"
#: What a placeholder may stand for; any other is a number.
_WORDS = {"share", "chance", "times", "missing", "cause", "first", "second"}


class _Known(NamedTuple):
    phrase: Phrase
    pattern: re.Pattern[str]


@cache
def _known(phrases: tuple[Phrase, ...]) -> tuple[_Known, ...]:
    with override(None):
        return tuple(
            _Known(phrase, _pattern(english)) for phrase in phrases for english in sorted({phrase(1), phrase(2)})
        )


def _pattern(english: str) -> re.Pattern[str]:
    parts = re.split(r"%\((\w+)\)s", english)
    found = [
        f"(?P<{part}>{'.+?' if part in _WORDS else _NUMBER})" if number % 2 else re.escape(part.replace("%%", "%"))
        for number, part in enumerate(parts)
    ]
    return re.compile("".join(found))


def own_words(english: str) -> str:
    """A sentence of the rule, or a part of one that stands by itself, in the language of the page."""
    language = get_language() or "en"
    return english if language.startswith("en") else _own_words(english, language)


@lru_cache(maxsize=8192)
def _own_words(english: str, _language: str) -> str:
    for phrases in (_SENTENCES, _LANDINGS, _PARTS):
        for known in _known(phrases):
            if found := known.pattern.fullmatch(english):
                return _said(known.phrase, found.groupdict())
    return english


def missing_in_own_words(english: str) -> str:
    """What ready would take, as it is listed: "3 more clean runs in a row and runs on 1 more date"."""
    language = get_language() or "en"
    return english if language.startswith("en") else _listed(english)


def _said(phrase: Phrase, values: dict[str, str]) -> str:
    put = {name: _PUT.get(name, in_own_digits)(value) for name, value in values.items()}
    return phrase(int(values.get("count", "2"))) % put


def _cause(english: str) -> str:
    key = english.replace(" ", "_")
    return str(Cause(key).label) if key in Cause.values else english


@cache
def _starts() -> tuple[_Known, ...]:
    """As what ready would take begins: the times of runs have a comma within and come last."""
    return tuple(
        _Known(
            known.phrase,
            re.compile(known.pattern.pattern + ("$" if "times" in known.pattern.groupindex else "(?=, | and |$)")),
        )
        for known in _known(_MISSING)
    )


def _listed(english: str) -> str:
    said, rest, last = "", english, False
    while rest:
        start = next(((known, found) for known in _starts() if (found := known.pattern.match(rest))), None)
        if start is None:
            return english
        known, found = start
        part = _said(known.phrase, found.groupdict())
        rest = rest[found.end() :]
        listed = _("%(names)s and %(name)s") if last else _("%(names)s, %(name)s")
        said = listed % {"names": said, "name": part} if said else part
        last = rest.startswith(" and ")
        rest = rest.removeprefix(", ").removeprefix(" and ")
    return said


#: How what stands for a placeholder is said, unless it is a number.
_PUT: dict[str, Callable[[str], str]] = {
    "share": own_words,
    "chance": own_words,
    "times": own_words,
    "missing": _listed,
    "cause": _cause,
}
