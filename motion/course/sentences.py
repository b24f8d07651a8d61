"""What motion says to people: English, with its names and numbers beside it, until somebody reads it.

A :class:`Sentence` is a str, namely its English: so it is compared, looked up and written down. ``str()`` of it, an f-string or
a page says it in the language of whoever reads, once :func:`speak` has been told of languages. So what is worked out once for
several readers (a check that is remembered, what became of a job) has no language of its own.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

Kind = Literal["say", "count", "number", "capital", "line"]
_PLACE = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True)
class Language:
    """How a language is spoken: a sentence, one that a number decides, a number's digits, a name from outside."""

    gettext: Callable[[str], str] = lambda msgid: msgid
    ngettext: Callable[[str, str, int], str] = lambda one, many, n: one if n == 1 else many
    digits: Callable[[str], str] = lambda number: number
    name: Callable[[str], str] = lambda name: name


ENGLISH = Language()
_spoken = [ENGLISH]


def speak(language: Language) -> Language:
    """From now on sentences are said by ``language``: told once, by whoever knows the reader's. Gives what they were said by before.

    >>> before = speak(Language(gettext={"Step {step} is off.": "El paso {step} no vale."}.get))
    >>> said = _("Step {step} is off.", step=3)
    >>> said, str(said)
    ('Step 3 is off.', 'El paso 3 no vale.')
    >>> _ours = speak(before)
    """
    before, _spoken[0] = _spoken[0], language
    return before


class Sentence(str):
    """Its English as a str; ``str()`` of it is said as the reader speaks."""

    parts: tuple[Any, ...]

    def __new__(cls, kind: Kind, *parts: Any) -> Sentence:
        made = super().__new__(cls, _said(ENGLISH, kind, *parts))
        made.parts = (kind, *parts)
        return made

    def __str__(self) -> str:
        return _said(_spoken[0], *self.parts)

    def __format__(self, spec: str) -> str:
        return format(str(self), spec)

    @property
    def has_values(self) -> bool:
        """Whether more than its English is needed to say it elsewhere."""
        return self.parts[0] != "say" or bool(self.parts[2])

    def with_values(self, **values: object) -> Sentence:
        """A whole sentence, or one that a number decides, with more of its names and numbers.

        >>> _("{step} runs into {thing}.", step=3).with_values(thing="the gate")
        '3 runs into the gate.'
        """
        *rest, known = self.parts
        return Sentence(rest[0], *rest[1:], {**known, **values})

    def __reduce__(self) -> tuple[type[Sentence], tuple[Any, ...]]:
        return Sentence, self.parts


def _(msgid: str, **values: object) -> Sentence:
    """A whole sentence, or a name of something; names and numbers in its braces.

    >>> _("{thing} is {size} mm long.", thing=_("The gate"), size=numeral("12.5"))
    'The gate is 12.5 mm long.'
    """
    return Sentence("say", msgid, values)


def ngettext(one: str, many: str, n: int, **values: object) -> Sentence:
    """A sentence that a number decides, which is ``{n}`` in it.

    >>> ngettext("{n} run", "{n} runs", 1), ngettext("{n} run", "{n} runs", 3)
    ('1 run', '3 runs')
    """
    return Sentence("count", one, many, n, values)


def numeral(text: str) -> Sentence:
    """A number in English digits, as :mod:`motion.units` writes it, perhaps with its unit.

    >>> numeral("12.5 cm")
    '12.5 cm'
    """
    return Sentence("number", text)


def digits_of(text: str) -> str:
    """A number in English digits as the reader writes it, for a sentence that is being said: ``numeral`` waits until then.

    >>> digits_of("12.5 cm")
    '12.5 cm'
    """
    return _spoken[0].digits(text)


def capital(text: str) -> Sentence:
    """With a capital at its beginning.

    >>> capital(_("distances come out too long."))
    'Distances come out too long.'
    """
    return Sentence("capital", text)


def in_line(by: str, texts: Sequence[str]) -> Sentence:
    """One behind the other: whole sentences by a space, or words of a list by what stands between them.

    >>> in_line(" ", [_("It is off."), _("Measure it again.")])
    'It is off. Measure it again.'
    """
    return Sentence("line", by, list(texts))


def all_of(names: Sequence[str]) -> str:
    """One, two or more, each joined to the next.

    >>> all_of(["the gate"]), all_of(["the gate", "the dyke"])
    ('the gate', 'the gate and the dyke')
    """
    *most, last = names
    return _("{one} and {other}", one=all_of(most), other=last) if most else last


def in_a_row(words: Sequence[str]) -> str:
    """One, two or more, as people list them.

    >>> in_a_row(["run 1"]), in_a_row(["run 1", "run 2"]), in_a_row(["run 1", "run 2", "run 5"])
    ('run 1', 'run 1 and run 2', 'run 1, run 2 and run 5')
    """
    *most, last = words
    return _("{one} and {other}", one=in_line(", ", most), other=last) if most else last


def _said(language: Language, kind: Kind, *parts: Any) -> str:
    if kind == "say":
        msgid, values = parts
        return _filled(language, language.gettext(msgid), values)
    if kind == "count":
        one, many, n, values = parts
        return _filled(language, language.ngettext(one, many, n), {"n": n, **values})
    if kind == "number":
        return language.digits(parts[0])
    if kind == "capital":
        text = _value(language, parts[0])
        return text[:1].upper() + text[1:]
    by, texts = parts
    return by.join(_value(language, text) for text in texts)


def _filled(language: Language, text: str, values: dict[str, Any]) -> str:
    """Not by ``format``: a sentence may come out of a file that somebody else wrote, and is to reach for nothing."""
    return _PLACE.sub(lambda found: _value(language, values.get(found[1], found[0])), text)


def _value(language: Language, value: object) -> str:
    if isinstance(value, Sentence):
        return _said(language, *value.parts)
    return language.name(value) if isinstance(value, str) else str(value)


def keep(text: str) -> str | list[Any]:
    """A sentence for a file or a row, to be said by :func:`kept` in whatever language it is read.

    >>> keep("gravel bank"), keep(_("{n} mm short", n=numeral("1.5")))
    ('gravel bank', ['say', '{n} mm short', {'n': ['number', '1.5']}])
    """
    return _kept_part(text) if isinstance(text, Sentence) else text


def _kept_part(value: Any) -> Any:
    if isinstance(value, Sentence):
        return [_kept_part(part) for part in value.parts]
    if isinstance(value, dict):
        return {name: _kept_part(each) for name, each in value.items()}
    return [_kept_part(each) for each in value] if isinstance(value, list) else value


_SHAPES: dict[str, tuple[type, ...]] = {
    "say": (str, dict), "count": (str, str, int, dict), "number": (str,), "capital": (str,), "line": (str, list),
}  # fmt: skip


def kept(value: Any) -> str:
    """What :func:`keep` made, or a text from before that was so; what is neither is read as it stands.

    >>> kept("gravel bank"), kept(["say", "{n} mm short", {"n": ["number", "1.5"]}])
    ('gravel bank', '1.5 mm short')
    >>> kept(["say", 4])
    "['say', 4]"
    """
    read = _read(value)
    return read if isinstance(read, str) else str(read)


def _read(value: Any) -> Any:
    if not (isinstance(value, list) and value and isinstance(value[0], str) and value[0] in _SHAPES):
        return value
    kind, *rest = value
    parts = [_read_part(part) for part in rest]
    fits = len(parts) == len(_SHAPES[kind]) and all(map(isinstance, parts, _SHAPES[kind]))
    return Sentence(kind, *parts) if fits else value


def _read_part(part: Any) -> Any:
    if isinstance(part, dict):
        return {name: _read(each) for name, each in part.items()}
    read = _read(part)
    return [_read(each) for each in read] if isinstance(read, list) else read
