"""A language in which every translated sentence stands between ⟦ and ⟧, so that what no translation reaches shows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

from django.apps import apps
from django.utils.translation import trans_real

from classroom.records.kept import FREE_TEXT
from tests.languages.test_covered import READ_ALOUD, SAME_EVERYWHERE, WORD

BEGIN, END = "⟦", "⟧"
#: Its catalogue is put in the place of this one.
CODE = "de"
#: What it calls itself, so that nothing remembered of the one is taken for the other.
MARKED = "de-marked"
#: Django takes these apart at their commas.
TAKEN_APART = "yes,no,maybe"
#: What people call their things. Texts that they write are ``FREE_TEXT``.
NAMES = {
    "classroom.Club": ("name", "time_zone"),
    "classroom.User": ("first_name", "last_name", "email", "username"),
    "classroom.Team": ("name", "join_code"),
    "classroom.Member": ("nickname",),
    "classroom.Robot": ("name",),
    "classroom.Term": ("name",),
    "classroom.Session": ("place",),
    "classroom.Table": ("name",),
    "classroom.Spare": ("name", "place"),
    "classroom.SafetyCard": ("subject",),
    "classroom.Calibration": ("surface",),
    "classroom.Invitation": ("email",),
    "classroom.GuardianContact": ("email",),
    "missions.Mission": ("title",),
    "missions.MissionVersion": ("title", "summary", "brief"),
    "missions.Tier": ("name",),
    "missions.TierVersion": ("name",),
}
#: What of them is a document, in which each ``name`` and each criterion's ``words`` is typed.
DRAWN = {
    "missions.MissionVersion": ("target",),
    "missions.TierVersion": ("obstacles", "keep_outs", "criteria", "more_targets"),
}
#: Alike in every language, each with its reason.
ALIKE = {
    "English": "a language, by its own name",
    "Español": "a language, by its own name",
    "Deutsch": "a language, by its own name",
}
#: To be typed as it stands.
ADDRESS = re.compile(r"(?:https?://|testserver)\S+")


class MarkingTranslation:
    """In the place of a catalogue: each sentence is its own translation, marked."""

    def gettext(self, message: str) -> str:
        sentence = message.rpartition(trans_real.CONTEXT_SEPARATOR)[2]
        if sentence == TAKEN_APART:
            return ",".join(f"{BEGIN}{word}{END}" for word in sentence.split(","))
        return f"{BEGIN}{sentence}{END}"

    def ngettext(self, singular: str, plural: str, number: int) -> str:
        return self.gettext(singular if number == 1 else plural)

    def language(self) -> str:
        return MARKED

    to_language = language


def typed_by_people() -> list[str]:
    """All that the world's people have typed, the longest first."""
    found: set[str] = set()
    for label, fields in [*NAMES.items(), *FREE_TEXT.items()]:
        for values in apps.get_model(label)._base_manager.values_list(*fields):
            found |= {str(value) for value in values if value}
    for label, fields in DRAWN.items():
        for documents in apps.get_model(label)._base_manager.values_list(*fields):
            found |= set(_named_in(documents))
    found |= {re.sub(r"[*_`]", "", text) for text in found}  # as it is shown where it may have emphasis
    return sorted(found | {text[:1].upper() + text[1:] for text in found}, key=len, reverse=True)


def _named_in(document: Any) -> Iterator[str]:
    if isinstance(document, dict):
        yield from (document[key] for key in ("name", "words") if document.get(key))
        document = list(document.values())
    if isinstance(document, list | tuple):
        for part in document:
            yield from _named_in(part)


class _Page(HTMLParser):
    """The text of a page and what of it is read aloud, without what scripts and styles hold."""

    def __init__(self) -> None:
        super().__init__()
        self.text: list[str] = []
        self.aloud: list[str] = []
        self.quiet = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.quiet += tag in ("script", "style", "template")
        self.aloud += [value for name, value in attrs if name in READ_ALOUD and value]

    def handle_endtag(self, tag: str) -> None:
        self.quiet -= tag in ("script", "style", "template")

    def handle_data(self, data: str) -> None:
        if not self.quiet:
            self.text.append(data)


def unmarked(text: str) -> str:
    """What stands outside all marks; a mark may hold others."""
    depth, outside = 0, []
    for letter in text:
        depth += letter == BEGIN
        outside.append(" " if depth else letter)
        depth -= letter == END
    return "".join(outside)


def words_outside_marks(html: str, data: list[str]) -> list[str]:
    """Words that no translation reaches and nobody typed; of ``data`` the longest first."""
    page = _Page()
    page.feed(html)
    page.close()
    typed = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, data)) or '(?!)'})(?!\w)")
    left = (
        typed.sub(" ", ADDRESS.sub(" ", re.sub(r"\s+", " ", unmarked(text))))
        for text in (" ".join(page.text), *page.aloud)
    )
    return [word for rest in left for word in WORD.findall(rest) if word not in SAME_EVERYWHERE and word not in ALIKE]


def speak_marked(monkeypatch: Any) -> None:
    for code in (CODE, MARKED):
        monkeypatch.setitem(trans_real._translations, code, MarkingTranslation())
